/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/plan/events.h"

#include <math.h>
#include <string.h>

#include "base/nearest.h"

/* In the order of bk_event_id. */
static const struct kind {
    const char *id, *needs, *takes, *meaning;
} kinds[BK_EVENTS] = {
    {"", "", "", ""},
    {"wire_in", "limb", "", "a wire is in a limb, not through struts; limb main is the main vessel"},
    {"wire_out", "limb", "which", "a wire is out; which tells the jailed one from the one through the struts"},
    {"recross_start", "limb", "", "a wire looks for its way through the struts"},
    {"recross", "limb", "cell", "a wire is through the struts into a limb"},
    {"recross_failed", "limb", "", "the attempt is given up"},
    {"jailed_balloon_in", "", "diameter_mm length_mm", "a balloon lies in the side branch before the main stent opens"},
    {"jailed_balloon_out", "", "", "it is out"},
    {"balloon", "limb", "diameter_mm length_mm atm s", "a balloon is inflated; without s it is still up"},
    {"stent", "limb diameter_mm", "length_mm atm s crosses", "a stent is opened; limb main crosses the side branch"},
    {"pot", "diameter_mm", "length_mm atm s", "proximal optimisation"},
    {"kissing", "main_mm side_mm", "atm s", "two balloons at once"},
    {"deflated", "", "s", "what was up is down"},
    {"kit_ready", "", "text", "what re-crossing takes lies ready: third wire, microcatheter, small balloon"},
    {"main_done", "", "", "nothing more will be inflated in the main vessel"},
    {"side_done", "", "", "nothing more will be done in the side branch"},
    {"contrast", "ml", "", "contrast given, added up"},
    {"dose", "", "air_kerma_gy kerma_area_gy_cm2 kerma_area_dgy_cm2 fluoroscopy_min", "the display's totals; the last counts"},
    {"act", "s", "", "activated clotting time"},
    {"heparin", "units", "", "heparin given, added up"},
    {"drug", "name", "amount unit", "another drug, by generic name"},
    {"timi", "limb grade", "", "TIMI flow grade of a limb"},
    {"pain", "level", "", "chest pain"},
    {"ecg", "change", "", "what the ECG shows"},
    {"dissection", "limb type", "", "NHLBI type"},
    {"decision", "about", "text shown", "what was decided; the answer shown is kept with it"},
    {"silence", "alert text", "", "an alert is not to be shown again, and why"},
    {"note", "text", "", "a remark"},
    {"undo", "n", "", "entry n, counted from 1, did not happen"},
};

static const char *const event_words[] = {
    "",        "wire_in", "wire_out",   "recross_start", "recross",   "recross_failed", "jailed_balloon_in", "jailed_balloon_out",
    "balloon", "stent",   "pot",        "kissing",       "deflated",  "kit_ready",      "main_done",         "side_done",
    "contrast", "dose",   "act",        "heparin",       "drug",      "timi",           "pain",              "ecg",
    "dissection", "decision", "silence", "note",         "undo",      NULL};
static const char *const limb_words[] = {"", "main", "proximal", "distal", "side", NULL};
static const char *const which_words[] = {"", "jailed", "through", NULL};
static const char *const cell_words[] = {"unknown", "distal", "proximal", NULL};
static const char *const type_words[] = {"", "none", "A", "B", "C", "D", "E", "F", NULL};
static const char *const level_words[] = {"", "none", "mild", "severe", NULL};
static const char *const change_words[] = {"", "none", "st_elevation", "st_depression", "rhythm", "other", NULL};

const bk_field bk_event_fields[] = {
    {BK_ROW_CHOICE(bk_event, event, event_words, "what happened")},
    {BK_ROW_TEXT(bk_event, at, "when, ISO 8601; now when not said")},
    {BK_ROW_CHOICE(bk_event, limb, limb_words, "limb; main where a device lies in the main vessel")},
    {BK_ROW_CHOICE(bk_event, which, which_words, "which of two wires in a limb")},
    {BK_ROW_CHOICE(bk_event, cell, cell_words, "cell of the stent that was crossed")},
    {BK_ROW_CHOICE(bk_event, type, type_words, "dissection type"), .source = "NHLBI dissection types A to F"},
    {BK_ROW_CHOICE(bk_event, level, level_words, "how bad")},
    {BK_ROW_CHOICE(bk_event, change, change_words, "change of the ECG")},
    {BK_ROW_TRI(bk_event, crosses, "the stent lies over the mouth of the other daughter")},
    {BK_ROW_INTEGER(bk_event, grade, 0, 3, "TIMI flow grade"), .source = "TIMI flow grade, 0 to 3"},
    {BK_ROW_INTEGER(bk_event, n, 1, 100000, "entry of the log, counted from 1")},
    {BK_ROW_REAL(bk_event, diameter_mm, "mm", 0.5, 8, "nominal diameter")},
    {BK_ROW_REAL(bk_event, length_mm, "mm", 2, 80, "nominal length")},
    {BK_ROW_REAL(bk_event, main_mm, "mm", 0.5, 8, "balloon in the main vessel")},
    {BK_ROW_REAL(bk_event, side_mm, "mm", 0.5, 8, "balloon in the side branch")},
    {BK_ROW_REAL(bk_event, atm, "atm", 0, 40, "pressure")},
    {BK_ROW_REAL(bk_event, s, "s", 0, 1500, "seconds of inflation, or of clotting")},
    {BK_ROW_REAL(bk_event, ml, "mL", 0, 2000, "volume")},
    {BK_ROW_REAL(bk_event, air_kerma_gy, "Gy", 0, 50, "air kerma at the reference point")},
    {BK_ROW_REAL(bk_event, kerma_area_gy_cm2, "Gy.cm2", 0, 5000, "kerma-area product"), .one_of = "kerma_area"},
    {BK_ROW_REAL(bk_event, kerma_area_dgy_cm2, "dGy.cm2", 0, 50000, "kerma-area product, as in the image tag"), .one_of = "kerma_area"},
    {BK_ROW_REAL(bk_event, fluoroscopy_min, "min", 0, 1000, "fluoroscopy time")},
    {BK_ROW_REAL(bk_event, units, "U", 0, 60000, "units of heparin")},
    {BK_ROW_REAL(bk_event, amount, NULL, 0, 1e6, "amount of the drug, in unit")},
    {BK_ROW_TEXT(bk_event, name, "generic name")},
    {BK_ROW_TEXT(bk_event, unit, "unit of the amount")},
    {BK_ROW_TEXT(bk_event, about, "topic of the answer that was decided on")},
    {BK_ROW_TEXT(bk_event, alert, "id of the alert")},
    {BK_ROW_TEXT(bk_event, text, "in words")},
    {BK_ROW_JSON(bk_event, shown, "the answer as it was shown"), .set_by = "the log command"},
    {0},
};

const char *bk_event_name(bk_event_id event)
{
    return kinds[event].id;
}

/* Is a word one of those in a list that are parted by spaces? */
static bool listed(const char *list, const char *word)
{
    const size_t n = strlen(word);
    for (const char *at = list; at && *at; at = strchr(at, ' ') ? strchr(at, ' ') + 1 : NULL)
        if (strncmp(at, word, n) == 0 && (at[n] == ' ' || at[n] == '\0'))
            return true;
    return false;
}

static bk_status unknown_event(const char *word, bk_err *err)
{
    bk_nearest best = {0};
    for (int i = 1; i < BK_EVENTS; i++)
        bk_nearest_offer(&best, word, kinds[i].id);
    return bk_fail(err, BK_E_DATA, "event \"%.40s\" is unknown, the nearest known one is \"%s\"", word, best.word);
}

static bk_status check_keys(const struct kind *kind, const bk_json *entry, bk_err *err)
{
    for (size_t i = 0; i < bk_json_count(entry); i++) {
        bk_json *value;
        const char *key = bk_json_key_at(entry, i, &value);
        if (strcmp(key, "event") != 0 && strcmp(key, "at") != 0 && !listed(kind->needs, key) && !listed(kind->takes, key))
            return bk_fail(err, BK_E_DATA, "%s: the key %.40s was found, %s%s%s was expected", kind->id, key, kind->needs,
                           *kind->needs && *kind->takes ? " " : *kind->needs || *kind->takes ? "" : "none", kind->takes);
    }
    char word[32];
    for (const char *at = kind->needs; *at; at += strlen(word) + (at[strlen(word)] == ' ')) {
        const size_t n = strcspn(at, " ");
        memcpy(word, at, n);
        word[n] = '\0';
        const bk_json *value = bk_json_get(entry, word);
        if (!value || bk_json_is_null(value))
            return bk_fail(err, BK_E_DATA, "%s: no %s was found, it is needed", kind->id, word);
    }
    return BK_OK;
}

bk_status bk_event_read(const bk_json *entry, bk_arena *arena, bk_event *out, bk_err *err)
{
    if (!bk_json_is_object(entry))
        return bk_fail(err, BK_E_DATA, "%s was found, an event (an object) was expected", bk_json_kind_name(entry));
    const char *word = bk_json_text(bk_json_get(entry, "event"));
    int id = 1;
    while (id < BK_EVENTS && strcmp(word, kinds[id].id) != 0)
        id++;
    if (id == BK_EVENTS)
        return unknown_event(word, err);
    const bk_status status = check_keys(&kinds[id], entry, err);
    return status == BK_OK ? bk_fields_read(bk_event_fields, entry, BK_KEYS_REFUSED, arena, out, err) : status;
}

void bk_events_void(const bk_event *events, size_t n, bool *void_of)
{
    memset(void_of, 0, n * sizeof *void_of);
    for (size_t i = n; i-- > 0;)
        if (events[i].event == BK_EVENT_UNDO && !void_of[i] && events[i].n >= 1 && (size_t)events[i].n <= i)
            void_of[events[i].n - 1] = true;
}

void bk_events_list(bk_json *array)
{
    for (int i = 1; i < BK_EVENTS; i++) {
        bk_json *row = bk_json_object(), *keys = bk_json_array();
        bk_json_put_text(row, "topic", "log");
        bk_json_put_text(row, "name", kinds[i].id);
        bk_json_put_text(row, "kind", "event");
        bk_json_put_text(row, "needs", kinds[i].needs);
        bk_json_put_text(row, "takes", kinds[i].takes);
        bk_json_put_text(row, "meaning", kinds[i].meaning);
        for (const bk_field *field = bk_event_fields; field->kind != BK_FIELD_END; field++)
            if (listed(kinds[i].needs, field->name) || listed(kinds[i].takes, field->name))
                bk_fields_list_row(field, keys);
        bk_json_put(row, "keys", keys);
        bk_json_push(array, row);
    }
}
