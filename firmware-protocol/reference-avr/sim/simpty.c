/*
 * simpty.c - see simpty.h.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include "simpty.h"

/* raw switches off all that a terminal does to bytes. */
static int raw(int fd)
{
	struct termios t;
	if (tcgetattr(fd, &t) < 0)
		return -1;
	cfmakeraw(&t);
	return tcsetattr(fd, TCSANOW, &t);
}

int simpty_open(struct simpty *p)
{
	p->dropped = 0;
	p->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (p->master < 0 || grantpt(p->master) < 0 || unlockpt(p->master) < 0)
		return -1;
	p->slave = open(simpty_name(p), O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (p->slave < 0 || raw(p->slave) < 0)
		return -1;
	return fcntl(p->master, F_SETFL, fcntl(p->master, F_GETFL) | O_NONBLOCK);
}

const char *simpty_name(const struct simpty *p)
{
	return ptsname(p->master);
}

void simpty_move(struct simpty *p, const uint8_t *bytes, size_t n)
{
	uint8_t unheard[256];
	while (read(p->master, unheard, sizeof unheard) > 0)
		;
	for (int tries = 0; n > 0 && tries < 3;) {
		ssize_t done = write(p->master, bytes, n);
		if (done > 0) {
			bytes += done;
			n -= (size_t)done;
		} else if (done < 0 && errno == EINTR) {
			continue;
		} else { /* full: nobody has read for a while */
			tcflush(p->slave, TCIFLUSH);
			tries++;
		}
	}
	p->dropped += n;
}
