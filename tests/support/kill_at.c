/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Preloaded: the program is killed (SIGKILL) when it has written BK_KILL_BYTES bytes to a plain file, or,
   with BK_KILL_CALL=fsync|rename|renamed, before its first fsync, before its first rename, or right behind
   that. */
#define _GNU_SOURCE
#define OUT __attribute__((visibility("default"))) /* the build hides what is not said to be seen */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

static void kill_if(const char *call)
{
    const char *wanted = getenv("BK_KILL_CALL");
    if (wanted && strcmp(wanted, call) == 0)
        raise(SIGKILL);
}

OUT ssize_t write(int fd, const void *bytes, size_t n)
{
    static long written;
    const char *limit = getenv("BK_KILL_BYTES");
    struct stat info;
    if (limit && fstat(fd, &info) == 0 && S_ISREG(info.st_mode) && written + (long)n >= atol(limit)) {
        syscall(SYS_write, fd, bytes, (size_t)(atol(limit) - written));
        raise(SIGKILL);
    }
    written += (long)n;
    return syscall(SYS_write, fd, bytes, n);
}

OUT int fsync(int fd)
{
    kill_if("fsync");
    return (int)syscall(SYS_fsync, fd);
}

OUT int rename(const char *from, const char *to)
{
    kill_if("rename");
    const int done = (int)syscall(SYS_rename, from, to);
    kill_if("renamed");
    return done;
}
