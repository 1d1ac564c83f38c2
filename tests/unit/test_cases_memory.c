/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use cases over the store when memory runs out: the 1st, 2nd, ... allocation of our own code fails (the
   linker leads them here; those inside libraries are theirs), until the action gets through. Each failure is
   told in one line as one of ours, and leaves the store sound and as it was. */
#include "support/check.h"

#include <stdlib.h>
#include <string.h>

#include "app/cases.h"

static long fail_in; /* 0: never */

static int trips(void)
{
    return fail_in > 0 && --fail_in == 0;
}

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t each);
void *__real_realloc(void *old, size_t n);
char *__real_strdup(const char *text);

void *__wrap_malloc(size_t n)
{
    return trips() ? NULL : __real_malloc(n);
}
void *__wrap_calloc(size_t n, size_t each)
{
    return trips() ? NULL : __real_calloc(n, each);
}
void *__wrap_realloc(void *old, size_t n)
{
    return trips() ? NULL : __real_realloc(old, n);
}
char *__wrap_strdup(const char *text)
{
    return trips() ? NULL : __real_strdup(text);
}

#define CINE                                                                                                 \
    "33d36264c65ff1921d07804bf3a0c2dd707bf539f3666695bafc3dd3c6bbf338" /* SHA-256 of fuzz/corpus/dicom/a16   \
                                                                        */

static char folder[64], archive[96], backup[96], document[96];

static int make_folder(void **state)
{
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/bk_memory_XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(archive, sizeof archive, "%s/case.tar", folder);
    snprintf(backup, sizeof backup, "%s/backup.tar", folder);
    snprintf(document, sizeof document, "%s/case.json", folder);
    return 0;
}

static int remove_all(void **state)
{
    (void)state;
    char command[96];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static bk_cases *open_cases(const char *name)
{
    char path[160];
    bk_cases *cases = NULL;
    bk_err err = {0};
    snprintf(path, sizeof path, "%s/%s", folder, name);
    if (bk_cases_open(path, &cases, &err) != BK_OK)
        fail_msg("%s", err.message);
    return cases;
}

/* The list with the removed ones, as text. */
static char *list(bk_cases *cases)
{
    bk_json *json = NULL;
    char *text = NULL, *copy;
    size_t n;
    bk_err err = {0};
    assert_int_equal(bk_cases_list_all(cases, true, &json, &err), BK_OK);
    assert_int_equal(bk_json_write(json, &text, &n, &err), BK_OK);
    copy = strdup(text);
    bk_json_text_free(text);
    bk_json_free(json);
    return copy;
}

static void is_sound(bk_cases *cases)
{
    bool sound = false;
    bk_json *json = NULL;
    bk_err err = {0};
    assert_int_equal(bk_cases_verify(cases, &sound, &json, &err), BK_OK);
    assert_true(sound);
    bk_json_free(json);
}

typedef bk_status (*deed)(bk_cases *, bk_json **, bk_err *);

/* store: name of the folder it is done to, opened anew each time; fresh: another one each time, as what got
   through in spite of a failure (that to sweep up, say) has done its work. */
static void each_allocation_fails(const char *store, bool fresh, deed act, long least)
{
    long n = 1;
    for (;; n++) {
        char name[40];
        snprintf(name, sizeof name, "%s%ld", store, fresh ? n : 0);
        bk_cases *cases = open_cases(name);
        bk_json *out = NULL;
        bk_err err = {0};
        char *before = list(cases);
        fail_in = n;
        const bk_status status = act(cases, &out, &err);
        const bool tripped = fail_in == 0;
        fail_in = 0;
        if (status == BK_OK)
            bk_json_free(out);
        is_sound(cases);
        if (status != BK_OK) {
            char *after = list(cases);
            if (status != BK_E_INTERNAL || !err.message[0])
                fail_msg("allocation %ld: status %d, %s", n, (int)status, err.message);
            assert_string_equal(before, after);
            free(after);
        }
        free(before);
        bk_cases_close(cases);
        if (status == BK_OK && !tripped)
            break;
        assert_true(n < 5000);
    }
    print_message("# %ld allocations failed one by one\n", n - 1);
    assert_true(n > least);
}

static bk_status import_file(bk_cases *cases, const char *file, bk_json **out, bk_err *err)
{
    bool conflict = false;
    return bk_cases_import(cases, file, 0, &conflict, out, err);
}

static bk_status do_document(bk_cases *cases, bk_json **out, bk_err *err)
{
    return import_file(cases, document, out, err);
}
static bk_status do_archive(bk_cases *cases, bk_json **out, bk_err *err)
{
    return import_file(cases, archive, out, err);
}
static bk_status do_backup(bk_cases *cases, bk_json **out, bk_err *err)
{
    return import_file(cases, backup, out, err);
}
static bk_status do_export(bk_cases *cases, bk_json **out, bk_err *err)
{
    remove(archive);
    return bk_cases_export(cases, "one", archive, out, err);
}
static bk_status do_back_up(bk_cases *cases, bk_json **out, bk_err *err)
{
    remove(backup);
    return bk_cases_backup(cases, backup, out, err);
}
static bk_status do_cine(bk_cases *cases, bk_json **out, bk_err *err)
{
    char path[400];
    const char *source = getenv("BK_SOURCE");
    snprintf(path, sizeof path, "%s/fuzz/corpus/dicom/a16", source ? source : ".");
    return import_file(cases, path, out, err);
}

static void test_cases__memory_runs_out(void **state)
{
    (void)state;
    FILE *out = fopen(document, "wb");
    assert_non_null(out);
    fputs(
        "{\"schema\":\"branchkeep.case/1\",\"case_id\":\"one\",\"patient\":{\"age_y\":67},\"cines\":[\"" CINE
        "\"]}",
        out);
    assert_int_equal(fclose(out), 0);
    each_allocation_fails("d", true, do_cine, 5);
    each_allocation_fails("a", false, do_cine, 5);
    each_allocation_fails("a", false, do_document, 3);
    each_allocation_fails("a", false, do_export, 5);
    each_allocation_fails("a", false, do_back_up, 5);
    each_allocation_fails("b", true, do_archive, 5);
    each_allocation_fails("c", true, do_backup, 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_cases__memory_runs_out, make_folder, remove_all),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
