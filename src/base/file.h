/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole files: read with a cap; written to a temporary file beside the target, then renamed over it. */
#ifndef BK_BASE_FILE_H
#define BK_BASE_FILE_H

#include <stddef.h>

#include "base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** *out holds n bytes and a zero behind them; free() it. Errors: BK_E_IO with the system's reason, BK_E_LIMIT over cap. */
bk_status bk_file_read(const char *path, size_t cap, char **out, size_t *n, bk_err *err) BK_MUST_CHECK;
/** All or nothing: on failure what was at path is untouched and no temporary file is left. */
bk_status bk_file_write(const char *path, const void *bytes, size_t n, bk_err *err) BK_MUST_CHECK;
/**
 * Hold an existing file for one writer that reads, changes and replaces it; waits for another that holds it. Those who do
 * not ask are not kept out. Errors: BK_E_IO. Let go with bk_file_let_go, also after the file was replaced.
 */
bk_status bk_file_hold(const char *path, int *held, bk_err *err) BK_MUST_CHECK;
void bk_file_let_go(int held);
/** SHA-256 of a file's bytes as 64 lower-case hexadecimal digits and a zero. */
bk_status bk_file_sha256(const char *path, char out[65], bk_err *err) BK_MUST_CHECK;
/** SHA-256 of n bytes. */
void bk_sha256(const void *bytes, size_t n, char out[65]);

/* SHA-256 of bytes that come in pieces. bk_hash_new gives NULL when out of memory; bk_hash_end frees (out may be NULL). */
typedef struct bk_hash bk_hash;
bk_hash *bk_hash_new(void);
void bk_hash_add(bk_hash *hash, const void *bytes, size_t n);
void bk_hash_end(bk_hash *hash, char out[65]);

#ifdef __cplusplus
}
#endif
#endif
