/*
 * waveform.h - voltages over time from a table.
 *
 * A table is text: on each line a time in microseconds and then one voltage a
 * channel, parted by commas, semicolons or white space. '#' begins a comment; a
 * first line that does not begin with a number is a heading. Times go up and
 * begin at 0. Between two lines the voltage follows a straight line; after the
 * last line's time it begins again. A table of one line is a steady voltage.
 */
#ifndef WAVEFORM_H
#define WAVEFORM_H

#include <stddef.h>

enum { WAVEFORM_CHANNELS = 8 };

struct waveform_row {
	double t_us;
	double volt[WAVEFORM_CHANNELS]; /* 0 for a channel without a column */
};

struct waveform {
	struct waveform_row *row;
	size_t rows;
	int channels;
};

/* Reads path into w. On failure w is as before, why says what is wrong, and
 * the result is -1. */
int waveform_load(struct waveform *w, const char *path, char *why, size_t why_size);

/* The voltage on a channel at a time; 0 V when nothing is loaded. */
double waveform_volt(const struct waveform *w, int channel, double t_us);

#endif
