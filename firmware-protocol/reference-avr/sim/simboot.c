/*
 * simboot.c - a simulated ATmega328P with nothing but a boot loader, on a pseudo terminal
 * that can be written to.
 *
 *   simboot [options] LOADER.hex
 *
 *   --flash FILE       the flash, kept over runs; without it nothing is kept
 *   --eeprom FILE      the EEPROM, likewise
 *   --waveform FILE    voltages, as waveform.h says; read anew on SIGHUP
 *   --hz N             the chip's clock; without it 16 MHz
 *   --link PATH        a symbolic link to the terminal, so that its name stays over runs
 *   --pull-after N     after N bytes from the host the lead is pulled: exit status 3
 *
 * The first line on standard output is "pty /dev/pts/N". One simulated second lasts one
 * second; it stops on SIGINT or SIGTERM.
 *
 * The reset line. On the usual boards a host that opens the port pulls it, by DTR through a
 * capacitor. A pseudo terminal has no DTR; opening it after it was closed is the reset here,
 * told by inotify, which forgets none while this process waits for the processor. DTR itself
 * is thus not tried here.
 *
 * The bit rate. The host's settings are read from the terminal; while they are more than 4 %
 * off the chip's rate, bytes arrive broken, in both directions.
 *
 * The licence is as for simboard.
 */
#define _GNU_SOURCE
#include <asm/ioctls.h>
#include <asm/termbits.h>
#include <fcntl.h>
#include <getopt.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "simchip.h"
#include "waveform.h"

enum { PULLED = 3, IN_CAP = 256 };

#define MOST_OFF 0.04 /* how far rates may differ: half a bit in ten, and some */

struct options {
	const char *loader, *flash, *eeprom, *waveform, *link;
	uint32_t hz;
	long pull_after;
};

/* A line from the host's terminal to the chip. */
struct line {
	int master;
	int watch; /* inotify: the terminal is opened and closed */
	int there; /* somebody has it open */
	int closed; /* since then it was closed */
	uint8_t in[IN_CAP];
	ssize_t have, at;
	long taken;
};

static volatile sig_atomic_t stop, reload = 1;

static void on_signal(int s)
{
	if (s == SIGHUP)
		reload = 1;
	else
		stop = 1;
}

static void fail(const char *what)
{
	perror(what);
	exit(1);
}

static struct options parse(int argc, char **argv)
{
	static const struct option known[] = {
		{"flash", 1, 0, 'f'}, {"eeprom", 1, 0, 'e'}, {"waveform", 1, 0, 'w'}, {"hz", 1, 0, 'h'},
		{"link", 1, 0, 'l'},  {"pull-after", 1, 0, 'p'}, {0, 0, 0, 0},
	};
	struct options o = {.hz = SIMCHIP_HZ, .pull_after = -1};
	int c;
	while ((c = getopt_long(argc, argv, "", known, NULL)) != -1) {
		switch (c) {
		case 'f': o.flash = optarg; break;
		case 'e': o.eeprom = optarg; break;
		case 'w': o.waveform = optarg; break;
		case 'h': o.hz = (uint32_t)atol(optarg); break;
		case 'l': o.link = optarg; break;
		case 'p': o.pull_after = atol(optarg); break;
		default: exit(2);
		}
	}
	if (optind != argc - 1 || o.hz == 0) {
		fputs("simboot [options] LOADER.hex\n", stderr);
		exit(2);
	}
	o.loader = argv[optind];
	return o;
}

/* open_terminal returns the master of a raw pseudo terminal that nobody has open. */
static int open_terminal(void)
{
	int m = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (m < 0 || grantpt(m) < 0 || unlockpt(m) < 0)
		fail("pty");
	int s = open(ptsname(m), O_RDWR | O_NOCTTY | O_CLOEXEC);
	struct termios2 t;
	if (s < 0 || ioctl(s, TCGETS2, &t) < 0)
		fail("pty");
	t.c_iflag = t.c_oflag = t.c_lflag = 0;
	t.c_cflag = (t.c_cflag & ~(CSIZE | PARENB)) | CS8;
	t.c_cc[VMIN] = 1;
	t.c_cc[VTIME] = 0;
	if (ioctl(s, TCSETS2, &t) < 0 || fcntl(m, F_SETFL, O_NONBLOCK) < 0)
		fail("pty");
	close(s);
	return m;
}

/* broken reports whether the host's rate is not the chip's. */
static int broken(const struct line *l, const struct simchip *c)
{
	struct termios2 t;
	if (ioctl(l->master, TCGETS2, &t) < 0 || t.c_ospeed == 0)
		return 1;
	return fabs((double)t.c_ospeed / simchip_rate(c) - 1) > MOST_OFF;
}

/* look sees whether the host has opened the terminal, which pulls the reset line. */
static void look(struct line *l, struct simchip *c)
{
	struct pollfd p = {.fd = l->master, .events = POLLIN};
	poll(&p, 1, 0);
	l->there = !(p.revents & POLLHUP);
	int pulled = 0;
	char room[4096] __attribute__((aligned(8)));
	for (ssize_t n; (n = read(l->watch, room, sizeof room)) > 0;) {
		for (char *at = room; at < room + n;) {
			struct inotify_event *e = (struct inotify_event *)at;
			at += sizeof *e + e->len;
			if (e->mask & IN_CLOSE) {
				l->closed = 1;
			} else if (l->closed) { /* two opens in a row are one program's */
				l->closed = 0;
				pulled = 1;
			}
		}
	}
	if (pulled) {
		simchip_reset(c);
		l->have = l->at = 0;
		ioctl(l->master, TCFLSH, TCOFLUSH); /* what the line still held for the chip */
	}
}

/* give hands the chip at most most bytes of the host's; 0 when the lead is pulled. */
static int give(struct line *l, struct simchip *c, int most, long pull_after)
{
	int bad = broken(l, c);
	for (; most > 0; most--) {
		if (l->at == l->have) {
			l->at = 0;
			l->have = l->there ? read(l->master, l->in, sizeof l->in) : 0;
			if (l->have <= 0) {
				l->have = 0;
				return 1;
			}
		}
		if (!simchip_take(c, bad ? l->in[l->at] ^ 0xA5 : l->in[l->at], bad))
			return 1;
		l->at++;
		if (++l->taken == pull_after)
			return 0;
	}
	return 1;
}

/* send gives the host what the chip has sent; a host that does not read loses bytes. */
static void send(struct line *l, struct simchip *c)
{
	size_t n;
	const uint8_t *sent = simchip_sent(c, &n);
	if (n == 0 || !l->there)
		return;
	uint8_t out[1 << 16];
	int bad = broken(l, c);
	for (size_t i = 0; i < n; i++)
		out[i] = bad ? (uint8_t)(sent[i] << 3 ^ 0x5A) : sent[i];
	if (write(l->master, out, n) < 0)
		return; /* full: lost */
}

static void load(struct waveform *w, const char *path)
{
	char why[512];
	reload = 0;
	if (path && waveform_load(w, path, why, sizeof why) < 0)
		fprintf(stderr, "simboot: %s\n", why);
}

static double wall(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

int main(int argc, char **argv)
{
	struct options o = parse(argc, argv);
	struct sigaction a = {.sa_handler = on_signal, .sa_flags = SA_RESTART};
	sigaction(SIGHUP, &a, NULL);
	sigaction(SIGINT, &a, NULL);
	sigaction(SIGTERM, &a, NULL);
	static struct waveform w;
	struct simchip *c = simchip_bare(o.loader, o.flash, o.eeprom, &w, o.hz);
	struct line l = {.master = open_terminal(), .watch = inotify_init1(IN_NONBLOCK | IN_CLOEXEC), .closed = 1};
	if (l.watch < 0 || inotify_add_watch(l.watch, ptsname(l.master), IN_OPEN | IN_CLOSE) < 0)
		fail("inotify");
	if (o.link && ((unlink(o.link), symlink(ptsname(l.master), o.link)) < 0))
		fail(o.link);
	printf("pty %s\n", ptsname(l.master));
	fflush(stdout);
	int pulled = 0;
	double begun = wall();
	while (!stop && !pulled) {
		if (reload)
			load(&w, o.waveform);
		look(&l, c);
		pulled = !give(&l, c, (int)(simchip_rate(c) / 10000) + 1, o.pull_after);
		if (!pulled && !simchip_run(c, o.hz / 1000)) {
			fputs("simboot: the program has stopped\n", stderr);
			return 1;
		}
		send(&l, c);
		double ahead = begun + (double)simchip_cycles(c) / o.hz - wall();
		if (ahead < -0.5)
			begun -= ahead;
		if (ahead > 0)
			nanosleep(&(struct timespec){.tv_nsec = (long)(ahead * 1e9)}, NULL);
	}
	simchip_save(c);
	if (o.link)
		unlink(o.link);
	return pulled ? PULLED : 0;
}
