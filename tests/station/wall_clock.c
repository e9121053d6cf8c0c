/* The wall clock of one process moved: put before the C library by LD_PRELOAD.
 *
 * The file named by WALL_CLOCK holds by how many seconds, and is read at every look at the clock, so
 * that it can be set while the process runs. Clocks that never fall are left alone, as they are when
 * somebody sets the clock of a computer.
 */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static long moved(void) {
    char text[32] = {0};
    const char *name = getenv("WALL_CLOCK");
    int fd = name ? open(name, O_RDONLY | O_CLOEXEC) : -1;
    if (fd < 0) return 0;
    ssize_t n = read(fd, text, sizeof text - 1);
    close(fd);
    return n > 0 ? atol(text) : 0;
}

int clock_gettime(clockid_t which, struct timespec *to) {
    int done = (int)syscall(SYS_clock_gettime, which, to);
    if (!done && (which == CLOCK_REALTIME || which == CLOCK_REALTIME_COARSE)) to->tv_sec += moved();
    return done;
}

int gettimeofday(struct timeval *restrict to, void *restrict zone) {
    struct timespec now;
    (void)zone;
    clock_gettime(CLOCK_REALTIME, &now);
    to->tv_sec = now.tv_sec;
    to->tv_usec = now.tv_nsec / 1000;
    return 0;
}

time_t time(time_t *to) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (to) *to = now.tv_sec;
    return now.tv_sec;
}
