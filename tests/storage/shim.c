/* A disk that fails when told to: put before the C library by LD_PRELOAD, told by ctypes.
 *
 * disk_fail(n):    0 lets syncs through again, otherwise every sync fails with this errno.
 * disk_kill(n):    the n-th write, sync, truncation or removal from now on ends the process
 *                  by SIGKILL; a write has put half of its bytes down by then.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <signal.h>
#include <sys/types.h>
#include <unistd.h>

static int failing;
static long until_killed;

void disk_fail(int error) { failing = error; }
void disk_kill(long n) { until_killed = n; }

static int is_the_last(void) { return until_killed > 0 && --until_killed == 0; }
static void die(void) { kill(getpid(), SIGKILL); pause(); }

#define REAL(name) __typeof__(&name) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)

#define WRITES(name, offset_type)                                             \
    ssize_t name(int fd, const void *from, size_t size, offset_type at) {     \
        REAL(name);                                                           \
        if (is_the_last()) { real(fd, from, size / 2, at); die(); }           \
        return real(fd, from, size, at);                                      \
    }
WRITES(pwrite, off_t)
WRITES(pwrite64, off64_t)

#define SYNCS(name)                                                           \
    int name(int fd) {                                                        \
        REAL(name);                                                           \
        if (is_the_last()) die();                                             \
        if (failing) { errno = failing; return -1; }                          \
        return real(fd);                                                      \
    }
SYNCS(fsync)
SYNCS(fdatasync)

#define TRUNCATES(name, offset_type)                                          \
    int name(int fd, offset_type size) {                                      \
        REAL(name);                                                           \
        if (is_the_last()) die();                                             \
        return real(fd, size);                                                \
    }
TRUNCATES(ftruncate, off_t)
TRUNCATES(ftruncate64, off64_t)

int unlink(const char *path) {
    REAL(unlink);
    if (is_the_last()) die();
    return real(path);
}
