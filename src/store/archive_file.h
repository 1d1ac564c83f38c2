/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Our archive: a POSIX tar that any tar program opens. Its first member is MANIFEST.json, which lists every
   other member in order with bytes and SHA-256; nothing else may be in it. Meaning of the members:
   app/cases_import_archive.c, docs/store.md. */
#ifndef BK_STORE_ARCHIVE_FILE_H
#define BK_STORE_ARCHIVE_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/json.h"
#include "base/status.h"

#define BK_ARCHIVE_SCHEMA "branchkeep.archive/1"
#define BK_ARCHIVE_MEMBERS_MAX 50000
#define BK_ARCHIVE_MEMBER_MAX ((int64_t)2 * 1024 * 1024 * 1024) /* bytes */

typedef struct bk_member {
    char *name; /* letters a-z, digits, and . _ - / inside */
    char sha256[65];
    int64_t bytes;
    char *path; /* a file that holds the content; or */
    char *text; /* the content itself */
} bk_member;

typedef struct bk_members {
    bk_member *items;
    size_t n;
} bk_members;

/** Append a member; name is copied, path and text (one of them NULL) are taken over, also on failure. */
bk_status bk_members_add(bk_members *members, const char *name, char *path, char *text,
                         bk_err *err) BK_MUST_CHECK;
void bk_members_clear(bk_members *members);

/**
 * Write an archive of these members: fills their sha256 and bytes (a cine may say beforehand what its SHA-256
 * must be) and puts them into manifest as "members". All or nothing: written beside, synced, renamed. Errors:
 * BK_E_IO; BK_E_DATA a member that is not what it should be.
 */
bk_status bk_archive_write(const char *path, bk_json *manifest, bk_members *members,
                           bk_err *err) BK_MUST_CHECK;

/**
 * Check an archive and unpack its members into an existing folder as files "0", "1", ... in the order of the
 * manifest, so that no name from the archive ever becomes a path. Refused with BK_E_DATA: another format,
 * compression, a missing or bad manifest, a member that is not a plain file, that is not the next one listed
 * (so: extra, missing, twice), of another size or SHA-256; names with other letters, "..", or an absolute
 * path; sizes that add up to more than the archive itself. BK_E_LIMIT over the caps above. *manifest is the
 * caller's; members have path set.
 */
bk_status bk_archive_unpack(const char *path, const char *folder, bk_json **manifest, bk_members *members,
                            bk_err *err) BK_MUST_CHECK;

#endif
