/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A lab's stock list: designs with the sizes they come in. shelf/README.md has the columns,
   docs/methods/shelf.md the rules. */
#ifndef BK_CORE_PLAN_SHELF_H
#define BK_CORE_PLAN_SHELF_H

#include "base/arena.h"
#include "core/plan/fit.h"
#include "core/plan/sizing.h"

typedef enum bk_stock_kind {
    BK_STOCK_STENT,
    BK_STOCK_BALLOON,
    BK_STOCK_WIRE,
    BK_STOCK_MICROCATHETER,
    BK_STOCK_DUAL_LUMEN,
    BK_STOCK_GUIDE,
    BK_STOCK_EXTENSION,
    BK_STOCK_KINDS
} bk_stock_kind;
extern const char *const bk_stock_kind_names[BK_STOCK_KINDS];

typedef enum bk_stock_class {
    BK_CLASS_NONE, /* kinds without classes */
    BK_CLASS_SMALL,
    BK_CLASS_MEDIUM,
    BK_CLASS_LARGE,
    BK_CLASS_EXTRA_LARGE,
    BK_CLASS_SEMI,
    BK_CLASS_NON,
    BK_CLASS_NON_JACKETED,
    BK_CLASS_HYDROPHILIC,
    BK_CLASS_JACKETED,
    BK_CLASSES
} bk_stock_class;
extern const char
    *const bk_stock_class_names[BK_CLASSES]; /* "", "small", ..., "semi", "non", "non_jacketed", ... */

#define BK_STOCK_SIZES 32

typedef struct bk_stock_sizes {
    double v[BK_STOCK_SIZES]; /* rising */
    size_t n;
} bk_stock_sizes;

typedef struct bk_stock_item {
    const char *id, *name, *note;
    bk_stock_kind kind;
    bk_stock_class cls;
    bk_stock_sizes nominal_mm, length_mm;
    bk_stock_sizes table_atm, table_mm; /* compliance table of the one nominal size; n 0: none */
    /* NaN where the list says nothing */
    double maximum_mm, recoil_pct, nominal_atm, rated_atm, growth_pct_atm;
    double front_mm, distal_mm, proximal_mm;
    double tip_load_g, inner_mm, french, length_cm;
    const char *
        standing; /* "seen", "memory", "common practice", "invented"; "entered" when the list leaves it out */
} bk_stock_item;

typedef struct bk_stock {
    const char *name;
    const bk_stock_item *items;
    size_t n;
} bk_stock;

#define BK_STOCK_ITEMS_MAX 2000
#define BK_STOCK_BYTES_MAX ((size_t)1024 * 1024)

/**
 * Read a stock list (CSV, one line of column names, then one design a line).
 *
 * Owns    items lie in the arena, their texts in `text`, which is overwritten and must have a writable byte
 * behind it Errors  BK_E_DATA, message "line N: ...": unknown, repeated or missing column; unknown kind or
 * class; a required cell empty; a cell that does not belong to the kind; a number that is none or out of
 * range; sizes that do not rise; an id given twice; a label maximum below a nominal size; a table without
 * rated burst pressure or for more than one size, that does not rise, or far from the nominal size; no rows.
 * BK_E_LIMIT too many rows.
 */
bk_status bk_stock_read(char *text, size_t n, bk_arena *arena, bk_stock *out, bk_err *err) BK_MUST_CHECK;

/** Text of a list that is built in ("default", "demo"), *n its length; NULL: there is none of this name. */
const char *bk_stock_builtin(const char *name, size_t *n);
/** Names of the lists built in, from 0; NULL behind the last. */
const char *bk_stock_builtin_name(size_t i);

/* ---- choosing ---- */

typedef struct bk_stock_wish {
    bk_stock_kind kind;
    bk_stock_class cls;        /* BK_CLASS_NONE: any */
    double nominal_mm;         /* NaN: any */
    double at_least_mm;        /* length; NaN: no wish. The shortest that is long enough is taken */
    double at_most_mm;         /* length; NaN: no wish. The longest that is short enough is taken */
    double reach_mm;           /* stents: diameter it must bear after dilatation; NaN: not known */
    double tip_load_at_most_g; /* wires; NaN: any */
} bk_stock_wish;

typedef struct bk_stock_match {
    const bk_stock_item *item;
    double nominal_mm; /* NaN for kinds without sizes */
    double length_mm;  /* NaN: the wish says nothing about length */
    bool exact;        /* false: the wished nominal size is not in stock, this is the next smaller one */
    bool reach_known;
    bk_platform_verdict reach; /* by the design's own maximum, or by its class when the list has none */
    double maximum_low_mm, maximum_high_mm; /* what was compared; NaN for other kinds */
    bool by_class;
} bk_stock_match;
#define BK_STOCK_MATCHES 3

/**
 * What of a list answers a wish, best first; returns how many, 0..BK_STOCK_MATCHES.
 * All are of the wished nominal size, or of the next smaller one in stock (never a larger one). Order: reach
 * (within, marginal, above), then the length that overshoots least, then the order of the list. A design too
 * short or too long for the wish is left out.
 */
size_t bk_stock_find(const bk_stock *stock, const bk_stock_wish *wish, const bk_evidence_set *evidence,
                     bk_stock_match out[BK_STOCK_MATCHES]);

/* ---- balloons, and the balloons that carry stents ---- */

/**
 * Diameter at a pressure [mm]: from the table by straight lines, else by the model nominal (1 + growth (P - P
 * nominal)). The pressure is cut at the rated burst pressure. NaN: neither is there, or the pressure is below
 * the table. Source  linear growth: Am J Cardiol 1986;57:26-8 (evidence row balloon_compliance_old)
 */
double bk_stock_diameter(const bk_stock_item *item, double nominal_mm, double atm);

typedef enum bk_pressure_verdict {
    BK_PRESSURE_GIVEN,
    BK_PRESSURE_NO_TABLE,
    BK_PRESSURE_BELOW_TABLE, /* it is larger than wanted already at the lowest pressure of its table */
    BK_PRESSURE_ABOVE_RATED  /* it does not grow that large up to its rated burst pressure */
} bk_pressure_verdict;

typedef struct bk_pressure {
    bk_pressure_verdict verdict;
    double atm;         /* NaN unless given; never above the rated burst pressure */
    double at_rated_mm; /* diameter at rated burst by the table; NaN without one */
} bk_pressure;

/** Pressure for a diameter [mm], from the item's own table only. */
bk_pressure bk_stock_pressure(const bk_stock_item *item, double wanted_mm);

/** Profile for the guide: the item's own diameters, where it has none those of its kind. Only for kinds that
 * go into a guide. */
bk_profile bk_stock_profile(const bk_stock_item *item, const bk_evidence_set *evidence);

#endif
