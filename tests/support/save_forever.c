/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For cases_kill.sh.
     save_forever save DIR CASE.json CINE.dcm ACKNOWLEDGED   saves revisions and cines until it is killed;
   writes a line for each one that has been acknowledged, after it has been save_forever check DIR
   ACKNOWLEDGED                     every line of the file must be kept as it was */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/cases.h"
#include "base/file.h"

static int failed(const char *what, const bk_err *err)
{
    fprintf(stderr, "%s: %s\n", what, err->message);
    return 1;
}

/* One write: a line is there or is not. */
static int acknowledge(int to, const char *line)
{
    return write(to, line, strlen(line)) == (ssize_t)strlen(line) ? 0 : 1;
}

/* A cine nobody has put before: the last bytes are pixels, and any value is a pixel. */
static int put_one(bk_cases *cases, char *bytes, size_t n, long number, const char *scratch, int to)
{
    char sha256[65], line[80];
    bk_err err = {0};
    memcpy(bytes + n - sizeof number, &number, sizeof number);
    if (bk_file_write(scratch, bytes, n, &err) != BK_OK ||
        bk_cases_put_cine(cases, scratch, sha256, &err) != BK_OK)
        return failed("put", &err);
    snprintf(line, sizeof line, "cine %s\n", sha256);
    return acknowledge(to, line);
}

static int save_one(bk_cases *cases, bk_json *doc, long number, int *revision, int to)
{
    char line[80];
    bk_json *out;
    bool conflict;
    bk_err err = {0};
    bk_json_put_integer(doc, "my_number", number);
    if (bk_cases_save(cases, doc, *revision, &out, &conflict, &err) != BK_OK)
        return failed("save", &err);
    *revision =
        (int)bk_json_number(bk_json_get(out, "revision")); /* of a conflict: the newest, to go on from */
    bk_json_free(out);
    snprintf(line, sizeof line, "case %d %ld\n", *revision, number);
    return conflict ? 0 : acknowledge(to, line);
}

static int save_forever(char **argv)
{
    bk_cases *cases;
    bk_json *doc;
    bk_err err = {0};
    char *bytes, scratch[4096];
    size_t n;
    int revision = 0;
    if (bk_cases_open(argv[0], &cases, &err) != BK_OK || bk_json_read_file(argv[1], &doc, &err) != BK_OK ||
        bk_file_read(argv[2], (size_t)1 << 30, &bytes, &n, &err) != BK_OK)
        return failed("start", &err);
    const int to = open(argv[3], O_WRONLY | O_APPEND | O_CREAT, 0600);
    snprintf(scratch, sizeof scratch, "%s.%ld.dcm", argv[3], (long)getpid());
    for (long number = (long)getpid() * 1000000;; number++)
        if (save_one(cases, doc, number, &revision, to) ||
            (number % 5 == 0 && put_one(cases, bytes, n, number, scratch, to)))
            return 1;
}

static int check_line(bk_cases *cases, const char *line, int *n)
{
    int revision;
    long number;
    char sha256[65], *path;
    bk_json *doc;
    bk_err err = {0};
    ++*n;
    if (sscanf(line, "cine %64s", sha256) == 1) { /* allow: our own lines */
        if (bk_cases_cine_path(cases, sha256, &path, &err) != BK_OK)
            return failed(line, &err);
        free(path);
        return 0;
    }
    if (sscanf(line, "case %d %ld", &revision, &number) != 2 || /* allow: our own lines */
        bk_cases_load(cases, "killed", revision, &doc, &err) != BK_OK)
        return failed(line, &err);
    const int other = bk_json_number(bk_json_get(doc, "my_number")) != (double)number;
    bk_json_free(doc);
    return other ? failed(line, &(bk_err){.message = "another document was found"}) : 0;
}

static int check_all(char **argv)
{
    bk_cases *cases;
    bk_err err = {0};
    char line[120];
    int n = 0, faults = 0;
    FILE *in = fopen(argv[1], "r");
    if (!in || bk_cases_open(argv[0], &cases, &err) != BK_OK)
        return failed("check", &err);
    while (fgets(line, sizeof line, in))
        faults += check_line(cases, line, &n);
    fclose(in);
    bk_cases_close(cases);
    printf("%d acknowledged, %d missing or changed\n", n, faults);
    return faults > 0;
}

int main(int argc, char **argv)
{
    if (argc == 6 && strcmp(argv[1], "save") == 0)
        return save_forever(argv + 2);
    return argc == 4 && strcmp(argv[1], "check") == 0 ? check_all(argv + 2) : 2;
}
