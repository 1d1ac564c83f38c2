/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "server/guard.h"

#include <string.h>
#include <sys/random.h>

#include "base/format.h"

static bk_status secret(char out[BK_SECRET_TEXT], bk_err *err)
{
    unsigned char bytes[16];
    if (getrandom(bytes, sizeof bytes, 0) != (ssize_t)sizeof bytes)
        return bk_fail(err, BK_E_IO, "no random numbers were to be had from the system");
    for (size_t i = 0; i < sizeof bytes; i++)
        bk_format(out + 2 * i, 3, "%02x", bytes[i]);
    return BK_OK;
}

bk_status bk_guard_start(bk_guard *guard, int port, bk_err *err)
{
    guard->port = port;
    bk_format(guard->cookie, sizeof guard->cookie, "branchkeep_%d", port);
    const bk_status status = secret(guard->token, err);
    return status == BK_OK ? secret(guard->session, err) : status;
}

bool bk_guard_host(const bk_guard *guard, const char *host)
{
    static const char *const names[] = {"127.0.0.1", "[::1]", "localhost"};
    for (size_t i = 0; host && i < sizeof names / sizeof names[0]; i++) {
        char own[32];
        bk_format(own, sizeof own, "%s:%d", names[i], guard->port);
        if (strcmp(host, own) == 0)
            return true;
    }
    return false;
}

bool bk_guard_origin(const bk_guard *guard, const char *origin)
{
    static const char scheme[] = "http://";
    return origin && strncmp(origin, scheme, sizeof scheme - 1) == 0 &&
           bk_guard_host(guard, origin + sizeof scheme - 1);
}

static bool same_secret(const char *known, const char *given, size_t n)
{
    unsigned difference = n != BK_SECRET_TEXT - 1;
    for (size_t i = 0; i < n && i < BK_SECRET_TEXT - 1; i++)
        difference |= (unsigned char)known[i] ^ (unsigned char)given[i];
    return difference == 0;
}

bool bk_guard_token(const bk_guard *guard, const char *token)
{
    return token && same_secret(guard->token, token, strlen(token));
}

/* "a=1; b=2": RFC 6265, 4.2.1 */
bool bk_guard_cookie(const bk_guard *guard, const char *header)
{
    const size_t name_n = strlen(guard->cookie);
    while (header && *header) {
        header += strspn(header, " ;");
        const size_t n = strcspn(header, ";");
        if (n > name_n && strncmp(header, guard->cookie, name_n) == 0 && header[name_n] == '=' &&
            same_secret(guard->session, header + name_n + 1, n - name_n - 1))
            return true;
        header += n;
    }
    return false;
}
