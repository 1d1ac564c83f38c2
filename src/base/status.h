/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Status codes and the inline error value. An error is a plain value: nothing to free, no global. */
#ifndef BK_BASE_STATUS_H
#define BK_BASE_STATUS_H

#ifdef __cplusplus
extern "C" {
#endif

#define BK_MUST_CHECK __attribute__((warn_unused_result))
#define BK_PRINTF(fmt, args) __attribute__((format(printf, fmt, args)))

typedef enum bk_status {
    BK_OK = 0,
    BK_E_USAGE,   /* the command line is off                                     exit 2  */
    BK_E_DATA,    /* input data that cannot be used: format, range, unsupported   exit 3  */
    BK_E_IO,      /* the operating system refused a read or a write               exit 4  */
    BK_E_NOTHING, /* asked-for thing is absent, or a check failed: expected       exit 1  */
    BK_E_LIMIT,   /* a stated cap (memory, size) would be exceeded                exit 3  */
    BK_E_INTERNAL /* out of memory or a fault of ours                             exit 70 */
} bk_status;

/* One line, no full stop, no patient identifier: WHAT was found, WHAT was expected. */
typedef struct bk_err {
    bk_status status;
    char message[248];
} bk_err;

/**
 * Record a failure and return its status, so that a caller writes `return bk_fail(err, ...)`.
 * The first failure wins: an err that already holds one keeps it. err may be NULL.
 * Control characters in the formatted text are replaced by '?', since parts of it may come from a file.
 */
bk_status bk_fail(bk_err *err, bk_status status, const char *format, ...) BK_PRINTF(3, 4);

/** Put "context: " before the message, where the caller knows something new (a file, a frame). */
bk_status bk_fail_in(bk_err *err, const char *context);

/** Exit code of the command line for a status. */
int bk_exit_code(bk_status status);

#ifdef __cplusplus
}
#endif
#endif
