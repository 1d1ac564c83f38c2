/* SPDX-License-Identifier: GPL-3.0-or-later */
/* embed OUT.c FOLDER FILE...   Write files below the folder of that name as one C table of bk_asset
   (src/server/assets.h). A file whose kind is not in the list below stops the build: the server must know
   what to call it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const kinds[][2] = {
    {".html", "text/html; charset=utf-8"},
    {".css", "text/css; charset=utf-8"},
    {".js", "text/javascript; charset=utf-8"},
    {".svg", "image/svg+xml"},
};

static const char *kind_of(const char *path)
{
    const char *dot = strrchr(path, '.');
    for (size_t i = 0; dot && i < sizeof kinds / sizeof kinds[0]; i++)
        if (strcmp(dot, kinds[i][0]) == 0)
            return kinds[i][1];
    fprintf(stderr, "embed: %s was found, a file of a known kind was expected\n", path);
    exit(1);
}

static size_t write_bytes(FILE *out, const char *path, int number)
{
    FILE *in = fopen(path, "rb");
    size_t n = 0;
    if (!in) {
        fprintf(stderr, "embed: %s cannot be read\n", path);
        exit(1);
    }
    fprintf(out, "static const unsigned char file_%d[] = {", number);
    for (int c = getc(in); c != EOF; c = getc(in))
        fprintf(out, "%s%d,", n++ % 24 ? "" : "\n", c);
    fprintf(out, "0};\n");
    fclose(in);
    return n;
}

/* "../web/js/main.js" with the folder "web": "/js/main.js" */
static const char *address_of(const char *path, const char *folder)
{
    const size_t n = strlen(folder);
    for (const char *at = strstr(path, folder); at; at = strstr(at + 1, folder))
        if ((at == path || at[-1] == '/') && at[n] == '/')
            return at + n;
    fprintf(stderr, "embed: %s was found, a file below %s was expected\n", path, folder);
    exit(1);
}

int main(int argc, char **argv)
{
    if (argc < 4)
        return 2;
    FILE *out = fopen(argv[1], "wb");
    size_t *sizes = calloc((size_t)argc, sizeof *sizes);
    if (!out || !sizes)
        return 1;
    fprintf(out, "/* written by tools/embed.c */\n#include \"server/assets.h\"\n");
    for (int i = 3; i < argc; i++)
        sizes[i] = write_bytes(out, argv[i], i);
    fprintf(out, "const bk_asset bk_assets[] = {\n");
    for (int i = 3; i < argc; i++)
        fprintf(out, "{\"%s\", \"%s\", file_%d, %zu},\n", address_of(argv[i], argv[2]), kind_of(argv[i]), i,
                sizes[i]);
    fprintf(out, "};\nconst size_t bk_assets_n = %d;\n", argc - 3);
    free(sizes);
    return fclose(out) == 0 ? 0 : 1;
}
