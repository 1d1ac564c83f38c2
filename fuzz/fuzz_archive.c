/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any bytes as a file for `cases import`: an archive, a backup, a case document, a cine. A search would never
   find a tar's header sums nor the SHA-256 of its manifest, so these are put right first; everything else
   stays as strange as it came. The store is a new one each time, in memory; whatever came, it must still be
   sound. */
#define _XOPEN_SOURCE 700 /* nftw */
#include <ftw.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/cases.h"
#include "base/file.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

#define BLOCK 512
#define BYTES_MAX ((size_t)1 << 20)

/* ---- putting sums right ---- */

static size_t octal(const unsigned char *digits, size_t n)
{
    size_t value = 0;
    for (size_t i = 0; i < n && digits[i] >= '0' && digits[i] <= '7'; i++)
        value = 8 * value + (size_t)(digits[i] - '0');
    return value;
}

/* POSIX ustar: the sum of the header's bytes, its own field taken as spaces. */
static void sum_header(unsigned char header[BLOCK])
{
    unsigned sum = 0;
    char digits[8];
    memset(header + 148, ' ', 8);
    for (int i = 0; i < BLOCK; i++)
        sum += header[i];
    snprintf(digits, sizeof digits, "%06o", sum);
    memcpy(header + 148, digits, 7);
}

/* The next "sha256": "..." behind *at becomes that of these bytes. */
static void put_sha(unsigned char *manifest, size_t n, size_t *at, const unsigned char *bytes, size_t bytes_n)
{
    static const char key[] = "\"sha256\": \"";
    for (; *at + sizeof key - 1 + 64 < n; ++*at) {
        if (memcmp(manifest + *at, key, sizeof key - 1) != 0)
            continue;
        char sha[65];
        bk_sha256(bytes, bytes_n, sha);
        memcpy(manifest + *at + sizeof key - 1, sha, 64);
        *at += sizeof key - 1 + 64;
        return;
    }
}

static void put_right(unsigned char *bytes, size_t n)
{
    unsigned char *manifest = NULL;
    size_t manifest_n = 0, told = 0;
    for (size_t at = 0; at + BLOCK <= n && bytes[at];) {
        const size_t size = octal(bytes + at + 124, 11), left = n - at - BLOCK;
        const size_t here = size < left ? size : left;
        sum_header(bytes + at);
        if (!manifest) {
            manifest = bytes + at + BLOCK;
            manifest_n = here;
        } else {
            put_sha(manifest, manifest_n, &told, bytes + at + BLOCK, here);
        }
        at += BLOCK + (here + BLOCK - 1) / BLOCK * BLOCK;
    }
}

/* ---- one import ---- */

static void must(bk_status status)
{
    if (status != BK_OK)
        abort();
}

static void try_import(const char *folder, const char *file)
{
    bk_cases *cases;
    bk_json *answer = NULL;
    bk_err err = {0};
    bool conflict = false, sound = false;
    must(bk_cases_open(folder, &cases, &err));
    const bk_status status = bk_cases_import(cases, file, 0, &conflict, &answer, &err);
    if (status != err.status || (status == BK_OK) != (answer != NULL) || (status != BK_OK && !err.message[0]))
        abort();
    if (status == BK_E_INTERNAL || status == BK_E_IO)
        abort();
    bk_json_free(answer);
    err = (bk_err){0};
    must(bk_cases_verify(cases, &sound, &answer, &err));
    if (!sound)
        abort();
    bk_json_free(answer);
    /* a second time it is known, or in conflict with what came in the first time, or refused again */
    if (status == BK_OK && !conflict) {
        bk_status again = bk_cases_import(cases, file, 0, &conflict, &answer, &err);
        if (again != BK_OK && again != BK_E_USAGE) /* a backup goes into an empty store only */
            abort();
        bk_json_free(again == BK_OK ? answer : NULL);
    }
    bk_cases_close(cases);
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *place)
{
    (void)info;
    (void)kind;
    (void)place;
    return remove(path);
}

/* In memory when there is a place for that. */
static bool make_folder(char folder[64])
{
    static const char *const places[] = {"/dev/shm", "/tmp"};
    bool made = false;
    for (size_t i = 0; i < 2 && !made; i++) {
        snprintf(folder, 64, "%s/branchkeep-fuzz-XXXXXX", places[i]);
        made = mkdtemp(folder) != NULL;
    }
    return made;
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n)
{
    char folder[64], file[96], store[96];
    unsigned char *copy = n <= BYTES_MAX ? malloc(n + 1) : NULL;
    if (!copy || !make_folder(folder)) {
        free(copy);
        return 0;
    }
    memcpy(copy, bytes, n);
    put_right(copy, n);
    snprintf(file, sizeof file, "%s/file", folder);
    snprintf(store, sizeof store, "%s/store", folder);
    FILE *out = fopen(file, "wbe");
    if (!out || fwrite(copy, 1, n, out) != n || fclose(out) != 0)
        abort();
    try_import(store, file);
    if (nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS) != 0)
        abort();
    free(copy);
    return 0;
}
