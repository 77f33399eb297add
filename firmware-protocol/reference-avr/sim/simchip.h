/*
 * simchip.h - the simulated ATmega328P that runs board.elf: voltages in, UART
 * bytes out, EEPROM kept in a file.
 */
#ifndef SIMCHIP_H
#define SIMCHIP_H

#include <stddef.h>
#include <stdint.h>

#include "waveform.h"

struct simchip;

struct simchip_counts {
	uint64_t asleep;   /* of these, the processor slept */
	uint64_t bytes;    /* sent by the UART */
	unsigned stack;    /* most bytes of RAM used by the stack */
	unsigned fixed;    /* bytes of RAM used by variables */
};

enum { SIMCHIP_HZ = 16000000 };

/* Loads the program; eeprom is a file's name or NULL. All failures are told on
 * standard error and end the process. */
struct simchip *simchip_new(const char *elf, const char *eeprom, const struct waveform *w);

/* A chip on which nothing but a boot loader was put, and what was written through
 * it before: loader is a hex file, whose lowest address is where a reset begins (the
 * fuse BOOTRST); flash is a file of the whole flash, kept by simchip_save, or NULL. */
struct simchip *simchip_bare(const char *loader, const char *flash, const char *eeprom, const struct waveform *w,
                             uint32_t hz);

/* The bit rate that the UART is set to. */
unsigned simchip_rate(const struct simchip *c);

/* Gives the UART a byte, broken if the line's rate is another; the result is 0 when it has
 * no room yet. A byte for a receiver that is off is lost. */
int simchip_take(struct simchip *c, uint8_t byte, int broken);

/* Runs for that many cycles or a few more. The result is 0 when the program has
 * stopped by itself, which the board's never does. */
int simchip_run(struct simchip *c, uint64_t cycles);

/* Takes the bytes sent since the last call. */
const uint8_t *simchip_sent(struct simchip *c, size_t *n);

/* Pulls the reset pin. */
void simchip_reset(struct simchip *c);

/* Writes the files of EEPROM and flash if they have changed. */
void simchip_save(struct simchip *c);

/* Cycles simulated since the start, over all resets. */
uint64_t simchip_cycles(const struct simchip *c);

struct simchip_counts simchip_counts(const struct simchip *c);

#endif
