/*
 * vectors_test.c - checks wire.c against the protocol's vectors on the
 * computer that builds it.
 *
 *   vectors_test DIRECTORY
 *
 * An intact vector holds exactly the bytes a board sends for its fields, so
 * wire.c must build the same. Not checked are refused vectors and streams,
 * which are for hosts, and three announcements that this program cannot send.
 * Every difference is told; the exit status is 0 only when there was none and
 * each kind was there.
 */
#define _GNU_SOURCE
#include <ctype.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../program/wire.h"

enum { MAX_BYTES = 1024, MAX_KEYS = 16, BLOCK_CAP = 600 };

struct vector {
	char name[256];
	char key[MAX_KEYS][32];
	char value[MAX_KEYS][2100];
	int keys;
	uint8_t byte[MAX_BYTES];
	size_t bytes;
};

enum kind { CRC, COBS, SEED, ANNOUNCEMENT, DATA, KINDS };
static const char *const kind_name[KINDS] = {"crc", "cobs", "seed", "announcement", "data"};

/* Of a later version, of a layout unknown here, and with a key that this
 * program does not send. */
static const char *const not_sent[] = {
	"announcement-newer.vec", "announcement-other-layout.vec", "announcement-unknown-key.vec",
};

static int failures;

static void fail(const struct vector *v, const char *what)
{
	printf("FAIL %s: %s\n", v->name, what);
	failures++;
}

static const char *get(const struct vector *v, const char *key)
{
	for (int i = 0; i < v->keys; i++)
		if (strcmp(v->key[i], key) == 0)
			return v->value[i];
	return "";
}

static unsigned long number(const struct vector *v, const char *key, int base)
{
	char *end;
	const char *text = get(v, key);
	unsigned long n = strtoul(text, &end, base);
	if (*end || end == text)
		fail(v, key);
	return n;
}

/* hex reads pairs of digits; spaces may stand between pairs, '#' ends it. */
static size_t hex(const char *text, uint8_t *to, size_t cap)
{
	size_t n = 0;
	unsigned b;
	while (n < cap) {
		text += strspn(text, " \t\r\n");
		if (*text == 0 || *text == '#' || sscanf(text, "%2x", &b) != 1)
			break;
		to[n++] = (uint8_t)b;
		text += 2;
	}
	return n;
}

static void head_line(struct vector *v, char *line)
{
	char *colon = strstr(line, ": ");
	if (!colon || v->keys == MAX_KEYS) {
		fail(v, "head");
		return;
	}
	snprintf(v->key[v->keys], sizeof v->key[0], "%.*s", (int)(colon - line), line);
	snprintf(v->value[v->keys++], sizeof v->value[0], "%s", colon + 2);
}

static int read_vector(const char *dir, const char *name, struct vector *v)
{
	char path[1024], line[2200];
	memset(v, 0, sizeof *v);
	snprintf(v->name, sizeof v->name, "%s", name);
	snprintf(path, sizeof path, "%s/%s", dir, name);
	FILE *in = fopen(path, "r");
	if (!in) {
		fail(v, "cannot be opened");
		return 0;
	}
	int body = 0;
	while (fgets(line, sizeof line, in)) {
		line[strcspn(line, "\r\n")] = 0;
		if (body)
			v->bytes += hex(line, v->byte + v->bytes, MAX_BYTES - v->bytes);
		else if (line[0] == 0)
			body = 1;
		else
			head_line(v, line);
	}
	fclose(in);
	return 1;
}

static void compare(const struct vector *v, const uint8_t *got, size_t n)
{
	if (n == v->bytes && memcmp(got, v->byte, n) == 0)
		return;
	fail(v, "other bytes");
	printf("  want %zu:", v->bytes);
	for (size_t i = 0; i < v->bytes; i++)
		printf(" %02X", v->byte[i]);
	printf("\n  got  %zu:", n);
	for (size_t i = 0; i < n; i++)
		printf(" %02X", got[i]);
	printf("\n");
}

static void check_crc(const struct vector *v)
{
	uint16_t crc = WIRE_ANNOUNCEMENT_SEED;
	for (size_t i = 0; i < v->bytes; i++)
		crc = wire_crc(crc, v->byte[i]);
	if (v->bytes == 0 || crc != number(v, "value", 16))
		fail(v, "other CRC");
}

static void check_cobs(const struct vector *v)
{
	uint8_t plain[MAX_BYTES], out[MAX_BYTES];
	size_t n = hex(get(v, "plain"), plain, sizeof plain);
	struct wire_out o;
	wire_start(&o, out, sizeof out);
	for (size_t i = 0; i < n; i++)
		wire_stuff(&o, plain[i]);
	compare(v, out, o.len);
}

static void check_seed(const struct vector *v)
{
	check_crc(v);
	if (wire_seed((uint8_t)number(v, "channels", 10)) != number(v, "value", 16))
		fail(v, "other seed");
}

/* check_cap: a buffer one byte short must be refused, not overrun. */
static void check_cap(const struct vector *v, uint16_t fits, uint16_t short_by_one)
{
	if (fits != v->bytes)
		fail(v, "does not fit a buffer of its own length");
	if (short_by_one != 0)
		fail(v, "fits a buffer that is too short");
}

static void check_announcement(const struct vector *v)
{
	uint8_t out[BLOCK_CAP];
	struct wire_board b = {
		.model = get(v, "model"),
		.program = get(v, "program"),
		.serial = (uint32_t)number(v, "serial", 16),
		.boot = (uint16_t)number(v, "boot", 16),
		.channels = (uint8_t)number(v, "channels", 10),
		.lambda = WIRE_NO_LAMBDA,
		.bits = (uint8_t)number(v, "bits", 10),
		.reference_mv = 5000,
		.rate = (uint16_t)number(v, "rate", 10),
		.slot_us = 112,
	};
	compare(v, out, wire_announcement(out, sizeof out, &b));
	uint16_t n = (uint16_t)v->bytes;
	check_cap(v, wire_announcement(out, n, &b), wire_announcement(out, n - 1, &b));
}

static void check_data(const struct vector *v)
{
	uint8_t out[BLOCK_CAP];
	uint16_t count[WIRE_MAX_CHANNELS] = {0};
	uint8_t channels = (uint8_t)number(v, "channels", 10);
	const char *text = get(v, "counts");
	for (int i = 0; i < channels; i++) {
		char *end;
		count[i] = (uint16_t)strtoul(text, &end, 10);
		text = end;
	}
	struct wire_frame f = {
		.counter = (uint32_t)number(v, "counter", 10),
		.tick = (uint32_t)number(v, "tick", 10),
		.overflow = (uint16_t)number(v, "overflow", 10),
		.count = count,
		.channels = channels,
	};
	uint16_t seed = wire_seed(channels);
	if (seed != number(v, "seed", 16))
		fail(v, "other seed");
	compare(v, out, wire_data(out, sizeof out, seed, &f));
	uint16_t n = (uint16_t)v->bytes;
	if (n != WIRE_DATA_SIZE(channels))
		fail(v, "other length than WIRE_DATA_SIZE says");
	check_cap(v, wire_data(out, n, seed, &f), wire_data(out, n - 1, seed, &f));
}

static int sent_by_us(const char *name)
{
	for (size_t i = 0; i < sizeof not_sent / sizeof not_sent[0]; i++)
		if (strcmp(name, not_sent[i]) == 0)
			return 0;
	return 1;
}

static void check(const struct vector *v, int *checked)
{
	static void (*const with[KINDS])(const struct vector *) = {
		check_crc, check_cobs, check_seed, check_announcement, check_data,
	};
	if (strcmp(get(v, "outcome"), "intact") != 0 || !sent_by_us(v->name))
		return;
	for (int k = 0; k < KINDS; k++) {
		if (strcmp(get(v, "kind"), kind_name[k]) != 0)
			continue;
		with[k](v);
		checked[k]++;
	}
}

int main(int argc, char **argv)
{
	static struct vector v;
	int checked[KINDS] = {0};
	DIR *d = argc == 2 ? opendir(argv[1]) : NULL;
	if (!d) {
		fprintf(stderr, "vectors_test: wants the directory of the vectors\n");
		return 2;
	}
	for (struct dirent *e; (e = readdir(d));) {
		size_t n = strlen(e->d_name);
		if (n > 4 && strcmp(e->d_name + n - 4, ".vec") == 0 && read_vector(argv[1], e->d_name, &v))
			check(&v, checked);
	}
	closedir(d);
	for (int k = 0; k < KINDS; k++) {
		printf("%s: %d checked\n", kind_name[k], checked[k]);
		failures += checked[k] == 0;
	}
	printf(failures ? "%d failed\n" : "all as the vectors say\n", failures);
	return failures != 0;
}
