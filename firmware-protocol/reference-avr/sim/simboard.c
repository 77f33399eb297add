/*
 * simboard.c - runs board.elf on a simulated chip, without hardware.
 *
 *   simboard [options] board.elf
 *
 *   (no --stdout)      a pseudo terminal is the serial port. The first line on
 *                      standard output is "pty /dev/pts/N". One simulated
 *                      second lasts one second.
 *   --stdout           the UART's bytes go to standard output, as fast as the
 *                      simulation runs
 *   --waveform FILE    voltages, as waveform.h says; without it all are 0 V.
 *                      On SIGHUP the file is read anew; a bad one is told on
 *                      standard error, and the old voltages stay
 *   --seconds S        stop after S simulated seconds; without it, on SIGINT or
 *                      SIGTERM
 *   --eeprom FILE      the EEPROM; written whenever the board changes it
 *   --reset-at S       pull the reset pin at simulated second S; may come more
 *                      than once
 *   --stats            at the end, tell figures on standard error
 *
 * Time in the waveform is simulated time since the program began; a reset does
 * not set it back.
 *
 * This file is under the project's MIT licence. The library it links is under
 * the GPL, version 3 or later; so is a built simboard, if you pass it on.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "simchip.h"
#include "simpty.h"
#include "waveform.h"

enum { SLICE = SIMCHIP_HZ / 1000, MAX_RESETS = 16 };

struct options {
	const char *elf, *waveform, *eeprom;
	int to_stdout, stats;
	double seconds;
	double reset_at[MAX_RESETS];
	int resets;
};

static volatile sig_atomic_t stop, reload;

static void on_signal(int s)
{
	if (s == SIGHUP)
		reload = 1;
	else
		stop = 1;
}

static void usage(void)
{
	fputs("simboard [--stdout] [--waveform FILE] [--seconds S] [--eeprom FILE]\n"
	      "         [--reset-at S] [--stats] board.elf\n", stderr);
	exit(2);
}

static double seconds_of(const char *text)
{
	char *end;
	double s = strtod(text, &end);
	if (*end || end == text || !isfinite(s) || s <= 0)
		usage();
	return s;
}

static struct options parse(int argc, char **argv)
{
	static const struct option known[] = {
		{"stdout", no_argument, 0, 'o'},         {"waveform", required_argument, 0, 'w'},
		{"seconds", required_argument, 0, 's'},  {"eeprom", required_argument, 0, 'e'},
		{"reset-at", required_argument, 0, 'r'}, {"stats", no_argument, 0, 't'},
		{0, 0, 0, 0},
	};
	struct options o = {.seconds = INFINITY};
	int c;
	while ((c = getopt_long(argc, argv, "", known, NULL)) != -1) {
		switch (c) {
		case 'o': o.to_stdout = 1; break;
		case 't': o.stats = 1; break;
		case 'w': o.waveform = optarg; break;
		case 'e': o.eeprom = optarg; break;
		case 's': o.seconds = seconds_of(optarg); break;
		case 'r':
			if (o.resets == MAX_RESETS)
				usage();
			o.reset_at[o.resets++] = seconds_of(optarg);
			break;
		default: usage();
		}
	}
	if (optind != argc - 1)
		usage();
	o.elf = argv[optind];
	return o;
}

/* catch_signals: an ignored SIGPIPE makes a closed pipe a failed write. */
static void catch_signals(void)
{
	struct sigaction a = {.sa_handler = on_signal, .sa_flags = SA_RESTART};
	sigaction(SIGHUP, &a, NULL);
	sigaction(SIGINT, &a, NULL);
	sigaction(SIGTERM, &a, NULL);
	signal(SIGPIPE, SIG_IGN);
}

/* load reads the waveform; the first must be good. */
static void load(struct waveform *w, const char *path, int first)
{
	char why[512];
	if (!path || waveform_load(w, path, why, sizeof why) == 0)
		return;
	fprintf(stderr, "simboard: %s%s\n", why, first ? "" : "; the old voltages stay");
	if (first)
		exit(1);
}

static double wall(void)
{
	struct timespec t;
	clock_gettime(CLOCK_MONOTONIC, &t);
	return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* pace waits until simulated time is no longer ahead of the clock on the wall.
 * begun is the wall's time at simulated 0; if the simulation is late by more
 * than half a second (a suspended process), it moves on instead of racing. */
static void pace(double *begun, double simulated)
{
	double ahead = *begun + simulated - wall();
	if (ahead < -0.5)
		*begun -= ahead;
	if (ahead <= 0)
		return;
	struct timespec t = {.tv_sec = (time_t)ahead};
	t.tv_nsec = (long)((ahead - (double)t.tv_sec) * 1e9);
	nanosleep(&t, NULL);
}

static void print_stats(struct simchip *c, double took)
{
	struct simchip_counts n = simchip_counts(c);
	double cycles = (double)simchip_cycles(c), s = cycles / SIMCHIP_HZ;
	fprintf(stderr, "simulated %.3f s in %.3f s (%.1f times real time)\n", s, took, s / took);
	fprintf(stderr, "processor awake %.1f %%\n", 100 - 100.0 * (double)n.asleep / cycles);
	fprintf(stderr, "sent %llu bytes\n", (unsigned long long)n.bytes);
	fprintf(stderr, "variables %u, stack up to %u of 2048 bytes\n", n.fixed, n.stack);
}

/* deliver hands on what the board sent; 0 when nobody can take it any more. */
static int deliver(struct simchip *c, struct simpty *p, int to_stdout)
{
	size_t n;
	const uint8_t *bytes = simchip_sent(c, &n);
	if (to_stdout)
		return n == 0 || fwrite(bytes, 1, n, stdout) == n;
	simpty_move(p, bytes, n);
	return 1;
}

static int run(const struct options *o, struct simchip *c, struct waveform *w, struct simpty *p)
{
	double begun = wall(), s = 0;
	uint64_t resets = 0;
	int ok = 1;
	while (!stop && ok && s < o->seconds) {
		if (reload) {
			reload = 0;
			load(w, o->waveform, 0);
		}
		for (int i = 0; i < o->resets; i++) {
			if (s < o->reset_at[i] || (resets >> i & 1))
				continue;
			resets |= 1ull << i;
			simchip_reset(c);
		}
		if (!simchip_run(c, SLICE)) {
			fprintf(stderr, "simboard: the program has stopped\n");
			ok = 0;
		}
		ok = deliver(c, p, o->to_stdout) && ok;
		simchip_save(c);
		s = (double)simchip_cycles(c) / SIMCHIP_HZ;
		if (!o->to_stdout)
			pace(&begun, s);
	}
	if (o->stats)
		print_stats(c, wall() - begun);
	return ok && fflush(stdout) == 0;
}

int main(int argc, char **argv)
{
	struct options o = parse(argc, argv);
	struct waveform w = {0};
	struct simpty p;
	catch_signals();
	load(&w, o.waveform, 1);
	struct simchip *c = simchip_new(o.elf, o.eeprom, &w);
	if (!o.to_stdout) {
		if (simpty_open(&p) < 0) {
			perror("simboard: pty");
			return 1;
		}
		printf("pty %s\n", simpty_name(&p));
		fflush(stdout);
	}
	return run(&o, c, &w, &p) ? 0 : 1;
}
