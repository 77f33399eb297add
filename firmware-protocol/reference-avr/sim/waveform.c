/*
 * waveform.c - see waveform.h.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "waveform.h"

/* parse_row reads the numbers of one line; the result is how many there are,
 * or -1 for anything else on the line. */
static int parse_row(char *line, struct waveform_row *row)
{
	double value[1 + WAVEFORM_CHANNELS];
	int n = 0;
	char *save = NULL;
	for (char *word = strtok_r(line, ",; \t\r\n", &save); word; word = strtok_r(NULL, ",; \t\r\n", &save)) {
		char *end;
		double v = strtod(word, &end);
		if (*end || !isfinite(v) || n == 1 + WAVEFORM_CHANNELS)
			return -1;
		value[n++] = v;
	}
	memset(row, 0, sizeof *row);
	if (n > 0)
		row->t_us = value[0];
	for (int i = 1; i < n; i++)
		row->volt[i - 1] = value[i];
	return n;
}

/* add_row appends a row that must fit those before it. */
static const char *add_row(struct waveform *w, size_t *cap, const struct waveform_row *row, int n)
{
	if (n < 2)
		return "wants a time and one to eight voltages";
	if (w->rows == 0 && row->t_us != 0)
		return "the first time is not 0";
	if (w->rows > 0 && row->t_us <= w->row[w->rows - 1].t_us)
		return "time does not go up";
	if (w->rows > 0 && n - 1 != w->channels)
		return "another number of voltages than before";
	if (w->rows == *cap) {
		size_t more = *cap ? 2 * *cap : 256;
		struct waveform_row *grown = realloc(w->row, more * sizeof *grown);
		if (!grown)
			return "not enough memory";
		w->row = grown;
		*cap = more;
	}
	w->channels = n - 1;
	w->row[w->rows++] = *row;
	return NULL;
}

/* read_rows reads all lines; the result is what is wrong, or NULL. */
static const char *read_rows(FILE *in, struct waveform *w, size_t *number)
{
	char *line = NULL;
	size_t size = 0, cap = 0;
	const char *wrong = NULL;
	int heading = 0;
	for (*number = 1; !wrong && getline(&line, &size, in) >= 0; ++*number) {
		struct waveform_row row;
		line[strcspn(line, "#")] = 0;
		int n = parse_row(line, &row);
		if (n == 0)
			continue;
		if (n < 0 && w->rows == 0 && !heading)
			heading = 1;
		else
			wrong = add_row(w, &cap, &row, n);
	}
	--*number;
	free(line);
	if (!wrong && w->rows == 0)
		wrong = "no voltages";
	return wrong;
}

int waveform_load(struct waveform *w, const char *path, char *why, size_t why_size)
{
	struct waveform fresh = {0};
	FILE *in = fopen(path, "r");
	if (!in) {
		snprintf(why, why_size, "%s: %s", path, strerror(errno));
		return -1;
	}
	size_t number = 0;
	const char *wrong = read_rows(in, &fresh, &number);
	fclose(in);
	if (wrong) {
		snprintf(why, why_size, "%s:%zu: %s", path, number, wrong);
		free(fresh.row);
		return -1;
	}
	free(w->row);
	*w = fresh;
	return 0;
}

double waveform_volt(const struct waveform *w, int channel, double t_us)
{
	if (w->rows == 0 || channel < 0 || channel >= WAVEFORM_CHANNELS)
		return 0;
	size_t low = 0, high = w->rows - 1;
	if (high == 0)
		return w->row[0].volt[channel];
	double t = fmod(t_us, w->row[high].t_us);
	while (high - low > 1) { /* row[low] is at or before t, row[high] after */
		size_t middle = (low + high) / 2;
		if (w->row[middle].t_us <= t)
			low = middle;
		else
			high = middle;
	}
	const struct waveform_row *a = &w->row[low], *b = &w->row[high];
	double part = (t - a->t_us) / (b->t_us - a->t_us);
	return a->volt[channel] + part * (b->volt[channel] - a->volt[channel]);
}
