/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A main for any fuzz target, without a fuzzer: run it once over every file of the folders named. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t n);

static int replay_file(const char *path)
{
    static uint8_t bytes[1 << 20];
    FILE *file = fopen(path, "rbe");
    if (!file)
        return 0; /* . and .. among others */
    const size_t n = fread(bytes, 1, sizeof bytes, file);
    const int good = !ferror(file);
    fclose(file);
    if (good)
        LLVMFuzzerTestOneInput(bytes, n);
    return good;
}

int main(int argc, char **argv)
{
    int n = 0;
    for (int i = 1; i < argc; i++) {
        DIR *folder = opendir(argv[i]);
        if (!folder) {
            fprintf(stderr, "%s is not a folder\n", argv[i]);
            return 2;
        }
        for (struct dirent *entry; (entry = readdir(folder));) {
            char path[4096];
            if ((size_t)snprintf(path, sizeof path, "%s/%s", argv[i], entry->d_name) < sizeof path)
                n += replay_file(path);
        }
        closedir(folder);
    }
    printf("%d inputs\n", n);
    return n == 0;
}
