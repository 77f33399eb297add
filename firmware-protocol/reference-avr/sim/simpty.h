/*
 * simpty.h - a pseudo terminal that stands for the board's serial port.
 */
#ifndef SIMPTY_H
#define SIMPTY_H

#include <stddef.h>
#include <stdint.h>

struct simpty {
	int master;
	int slave; /* kept open: the port survives a host that closes it */
	unsigned long long dropped;
};

/* Opens a pty and sets it raw; the result is -1 and errno set on failure. */
int simpty_open(struct simpty *p);

/* The name to open, such as /dev/pts/3; NULL on failure. */
const char *simpty_name(const struct simpty *p);

/* Writes what the board sent. A host that does not read loses the oldest
 * bytes, as with a real port: the board never waits. What the host wrote is
 * read and thrown away, for this board does not listen. */
void simpty_move(struct simpty *p, const uint8_t *bytes, size_t n);

#endif
