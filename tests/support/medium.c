/* A disk under the tests' control, laid under a program by LD_PRELOAD. It watches the data files of SQLite alone (names that end in .db or
 * -wal, and the probe for room beside them) and keeps its own files in the folder that MEDIUM names:
 *   syncs         a byte for every sync that reached the disk
 *   NAME.synced   the file as of its last sync: what a power cut leaves
 *   full          while it is there, no write succeeds (ENOSPC)
 *   broken        while it is there, no sync succeeds (EIO)
 *   lying         while it is there, syncs are acknowledged and do nothing
 * and MEDIUM_DIES_AT=n kills the program at its n-th sync. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/sendfile.h>
#include <sys/stat.h>
#include <unistd.h>

static int ends_with(const char *text, const char *end) {
    size_t a = strlen(text), b = strlen(end);
    return a >= b && strcmp(text + a - b, end) == 0;
}

/* Name of the data file behind a descriptor, or NULL. */
static const char *watched(int fd, char *path) {
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, PATH_MAX - 1);
    if (n <= 0) return NULL;
    path[n] = 0;
    if (!ends_with(path, ".db") && !ends_with(path, "-wal") && !ends_with(path, ".probe")) return NULL;
    return strrchr(path, '/') + 1;
}

static int there(const char *name) {
    char path[PATH_MAX];
    snprintf(path, sizeof path, "%s/%s", getenv("MEDIUM"), name);
    return access(path, F_OK) == 0;
}

static ssize_t (*real_write)(int, const void *, size_t);

static void keep(int fd, const char *name) {
    char part[PATH_MAX], kept[PATH_MAX];
    snprintf(part, sizeof part, "%s/%s.part", getenv("MEDIUM"), name);
    snprintf(kept, sizeof kept, "%s/%s.synced", getenv("MEDIUM"), name);
    char source[64];
    snprintf(source, sizeof source, "/proc/self/fd/%d", fd);
    int from = open(source, O_RDONLY), to = open(part, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    struct stat size;
    fstat(from, &size);
    for (off_t at = 0; at < size.st_size;)
        if (sendfile(to, from, &at, size.st_size - at) <= 0) abort();
    close(from);
    close(to);
    rename(part, kept);
}

static int sync_through(int fd, const char *symbol) {
    static atomic_int count;
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, symbol);
    char path[PATH_MAX];
    const char *name = getenv("MEDIUM") ? watched(fd, path) : NULL;
    if (!name) return real(fd);
    if (there("broken")) { errno = EIO; return -1; }
    if (there("lying")) return 0;
    const char *dies = getenv("MEDIUM_DIES_AT");
    if (dies && atomic_fetch_add(&count, 1) + 1 == atoi(dies)) kill(getpid(), SIGKILL);
    if (real(fd) != 0) return -1;
    keep(fd, name);
    snprintf(path, sizeof path, "%s/syncs", getenv("MEDIUM"));
    int syncs = open(path, O_WRONLY | O_CREAT | O_APPEND, 0600);
    real_write = real_write ? real_write : (ssize_t (*)(int, const void *, size_t))dlsym(RTLD_NEXT, "write");
    real_write(syncs, ".", 1);
    close(syncs);
    return 0;
}

int fsync(int fd) { return sync_through(fd, "fsync"); }
int fdatasync(int fd) { return sync_through(fd, "fdatasync"); }

static int no_room(int fd) {
    char path[PATH_MAX];
    if (!getenv("MEDIUM") || !watched(fd, path) || !there("full")) return 0;
    errno = ENOSPC;
    return 1;
}

ssize_t write(int fd, const void *bytes, size_t n) {
    real_write = real_write ? real_write : (ssize_t (*)(int, const void *, size_t))dlsym(RTLD_NEXT, "write");
    return no_room(fd) ? -1 : real_write(fd, bytes, n);
}

ssize_t pwrite(int fd, const void *bytes, size_t n, off_t at) {
    ssize_t (*real)(int, const void *, size_t, off_t) = (ssize_t (*)(int, const void *, size_t, off_t))dlsym(RTLD_NEXT, "pwrite");
    return no_room(fd) ? -1 : real(fd, bytes, n, at);
}

ssize_t pwrite64(int fd, const void *bytes, size_t n, off64_t at) {
    ssize_t (*real)(int, const void *, size_t, off64_t) = (ssize_t (*)(int, const void *, size_t, off64_t))dlsym(RTLD_NEXT, "pwrite64");
    return no_room(fd) ? -1 : real(fd, bytes, n, at);
}
