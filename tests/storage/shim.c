/* A disk that fails when told to: put before the C library by LD_PRELOAD, told by ctypes.
 *
 * disk_fail(n):    0 lets syncs through again, otherwise every sync fails with this errno.
 * disk_full(n):    0 lets writes through again, otherwise every write to a file does.
 * disk_kill(n):    the n-th write, sync, truncation, renaming or removal from now on ends the
 *                  process by SIGKILL; a write has put half of its bytes down by then.
 * disk_log(to, in): all that is done to files under the folder "in" is written to the file "to",
 *                  in order, once it was done: what a disk was given, and when it was told to keep.
 * disk_mark(text): a line in that log.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int failing, full;
static long until_killed;
static int log_to = -1;
static char log_in[4096];

#define REAL(name) __typeof__(&name) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

static ssize_t put(int fd, const void *from, size_t size) {
    static ssize_t (*real)(int, const void *, size_t);
    if (!real) real = (ssize_t (*)(int, const void *, size_t))dlsym(RTLD_NEXT, "write");
    return real(fd, from, size);
}

/* One line: what, to which file, from where on, how many bytes; and then the bytes. */
static void note(const char *what, const char *path, long long at, const void *from, size_t size) {
    char line[8300];
    if (log_to < 0 || strncmp(path, log_in, strlen(log_in))) return;
    int n = snprintf(line, sizeof line, "%s\t%s\t%lld\t%zu\n", what, path, at, size);
    put(log_to, line, n);
    if (from) put(log_to, from, size);
}
static void note_fd(const char *what, int fd, long long at, const void *from, size_t size) {
    char link[64], path[4096];
    int kept = errno;
    if (log_to < 0 || fd == log_to) return;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    if (n > 0) { path[n] = 0; note(what, path, at, from, size); }
    errno = kept;
}

void disk_fail(int error) { failing = error; }
void disk_full(int error) { full = error; }
void disk_kill(long n) { until_killed = n; }
void disk_log(const char *to, const char *in) {
    snprintf(log_in, sizeof log_in, "%s", in);
    log_to = open(to, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
}
void disk_mark(const char *text) {
    char line[4200];
    if (log_to >= 0) put(log_to, line, snprintf(line, sizeof line, "mark\t%s\t0\t0\n", text));
}

static int is_the_last(void) { return until_killed > 0 && --until_killed == 0; }
static void die(void) { kill(getpid(), SIGKILL); pause(); }

#define WRITES(name, offset_type)                                             \
    ssize_t name(int fd, const void *from, size_t size, offset_type at) {     \
        REAL(name);                                                           \
        if (is_the_last()) { real(fd, from, size / 2, at); die(); }           \
        if (full) { errno = full; return -1; }                                \
        ssize_t done = real(fd, from, size, at);                              \
        if (done > 0) note_fd("write", fd, at, from, done);                   \
        return done;                                                          \
    }
WRITES(pwrite, off_t)
WRITES(pwrite64, off64_t)

ssize_t write(int fd, const void *from, size_t size) {
    long long at = log_to < 0 || fd == log_to ? 0 : lseek(fd, 0, SEEK_CUR);
    ssize_t done = put(fd, from, size);
    if (done > 0) note_fd("write", fd, at, from, done);
    return done;
}

#define SYNCS(name)                                                           \
    int name(int fd) {                                                        \
        REAL(name);                                                           \
        if (is_the_last()) die();                                             \
        if (failing) { errno = failing; return -1; }                          \
        int bad = real(fd);                                                   \
        if (!bad) note_fd("sync", fd, 0, 0, 0);                               \
        return bad;                                                           \
    }
SYNCS(fsync)
SYNCS(fdatasync)

#define TRUNCATES(name, offset_type)                                          \
    int name(int fd, offset_type size) {                                      \
        REAL(name);                                                           \
        if (is_the_last()) die();                                             \
        int bad = real(fd, size);                                             \
        if (!bad) note_fd("truncate", fd, size, 0, 0);                        \
        return bad;                                                           \
    }
TRUNCATES(ftruncate, off_t)
TRUNCATES(ftruncate64, off64_t)

int unlink(const char *path) {
    REAL(unlink);
    if (is_the_last()) die();
    int bad = real(path);
    if (!bad) note("unlink", path, 0, 0, 0);
    return bad;
}

int rename(const char *from, const char *to) {
    REAL(rename);
    if (is_the_last()) die();
    int bad = real(from, to);
    if (!bad) note("rename", from, 0, to, strlen(to));
    return bad;
}
