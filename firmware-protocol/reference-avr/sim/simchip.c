/*
 * simchip.c - see simchip.h. Links Debian's libsimavr.
 *
 * The converter. The simulator takes whole millivolts and gives mV x 1023 /
 * 5000, rounded down; the chip gives V x 1024 / 5 V, rounded down. So the count
 * the chip would give is worked out here, from the voltage unrounded, and the
 * simulator gets the smallest number of millivolts that comes out as this
 * count. The converter is ideal: no noise, no error of its own.
 *
 * The converter's clock. The simulator starts a conversion at once; the chip at
 * the next edge of the converter's clock, which runs freely from when the
 * converter was turned on, and samples 1.5 cycles later (13.5 for the first
 * conversion). Here each conversion's end is put off to where the chip would
 * have it, and the voltage is taken at the chip's sampling instant. Without this
 * channels would follow each other some 5 us too soon.
 *
 * The UART. The simulator's byte lasts 11 bit times instead of 10, so the line
 * has less room than a real one has.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <avr_adc.h>
#include <avr_eeprom.h>
#include <avr_uart.h>
#include <avr_watchdog.h>
#include <sim_avr.h>
#include <sim_elf.h>
#include <sim_io.h>
#include <sim_time.h>

#include "simchip.h"

enum {
	AVCC_MV = 5000,
	ADCSRA = 0x7A,
	ADEN = 0x80,
	ADSC = 0x40,
	EEPROM_SIZE = 1024,
	FLASH_SIZE = 32768,
	UCSR0A = 0xC0, U2X0 = 0x02,
	UCSR0B = 0xC1, RXEN0 = 0x10,
	UBRR0L = 0xC4, UBRR0H = 0xC5,
	RAM_START = 0x100,
	PAINT = 0xC5, /* in RAM that nothing has written to */
	SENT_CAP = 1 << 16,
};

struct simchip {
	avr_t *avr;
	avr_irq_t *adc;
	const struct waveform *wave;
	const char *eeprom_path;
	uint8_t saved[EEPROM_SIZE];
	const char *flash_path;
	uint8_t saved_flash[FLASH_SIZE];
	uint32_t hz;
	int uart_full;        /* the receiver has no room */
	uint64_t base;        /* cycles before the last reset */
	uint64_t asleep;
	uint64_t adc_on_at;   /* cycle when the converter was turned on */
	int adc_on, adc_first;
	int started;          /* input of a conversion just asked for, or -1 */
	uint8_t sent[SENT_CAP];
	size_t sent_len;
	uint64_t bytes;
	unsigned fixed;
};

/* The simulator's sleep call has no room for a pointer. */
static struct simchip *sleeper;

static void die(const char *what, const char *why)
{
	fprintf(stderr, "simboard: %s: %s\n", what, why);
	exit(1);
}

/* on_log keeps the simulator's chatter off standard output, where the board's
 * bytes go. */
static void on_log(avr_t *avr, const int level, const char *format, va_list args)
{
	(void)avr;
	if (level <= LOG_ERROR)
		vfprintf(stderr, format, args);
}

/* on_sleep counts instead of waiting: pacing is the caller's. */
static void on_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
	(void)avr;
	sleeper->asleep += cycles + 1;
}

static void on_byte(avr_irq_t *irq, uint32_t value, void *param)
{
	struct simchip *c = param;
	(void)irq;
	c->bytes++;
	if (c->sent_len < SENT_CAP)
		c->sent[c->sent_len++] = (uint8_t)value;
}

static void on_conversion(avr_irq_t *irq, uint32_t value, void *param)
{
	struct simchip *c = param;
	union {
		avr_adc_mux_t mux;
		uint32_t v;
	} input = {.v = value};
	(void)irq;
	c->started = input.mux.kind == ADC_MUX_SINGLE ? (int)input.mux.src : WAVEFORM_CHANNELS;
}

/* put_voltage gives the simulator what makes the chip's count. */
static void put_voltage(struct simchip *c, int input, uint64_t cycle)
{
	double t_us = (double)(c->base + cycle) * 1e6 / c->hz;
	double count = waveform_volt(c->wave, input, t_us) * 1024 * 1000 / AVCC_MV;
	uint32_t n = count <= 0 ? 0 : count >= 1023 ? 1023 : (uint32_t)count;
	avr_raise_irq(c->adc + ADC_IRQ_ADC0 + input, (n * AVCC_MV + 1022) / 1023);
}

/* move_end puts the running conversion's end to a cycle. The simulator has it
 * in its list of timers under the converter's name. */
static void move_end(struct simchip *c, uint64_t cycle)
{
	avr_t *avr = c->avr;
	for (avr_cycle_timer_slot_p s = avr->cycle_timers.timer; s; s = s->next) {
		avr_io_t *io = avr->io_port;
		while (io && io != s->param)
			io = io->next;
		if (!io || strcmp(io->kind, "adc") != 0)
			continue;
		avr_cycle_timer_t timer = s->timer;
		avr_cycle_timer_cancel(avr, timer, io);
		avr_cycle_timer_register(avr, cycle - avr->cycle, timer, io);
		return;
	}
	die("converter", "the simulator's timer was not found; is this another libsimavr?");
}

/* on_adcsra follows writes to the converter's control register. */
static void on_adcsra(avr_irq_t *irq, uint32_t value, void *param)
{
	struct simchip *c = param;
	uint64_t now = c->avr->cycle;
	(void)irq;
	if ((value & ADEN) && !c->adc_on) {
		c->adc_on_at = now;
		c->adc_first = 1;
	}
	c->adc_on = (value & ADEN) != 0;
	if (!(value & ADSC) || c->started < 0)
		return;
	uint64_t clock = 1u << ((value & 7) ? (value & 7) : 1);
	uint64_t edge = c->adc_on_at + ((now - c->adc_on_at) / clock + 1) * clock;
	uint64_t sample = edge + (c->adc_first ? 27 : 3) * clock / 2;
	if (c->started < WAVEFORM_CHANNELS)
		put_voltage(c, c->started, sample);
	move_end(c, edge + (c->adc_first ? 25 : 13) * clock);
	c->adc_first = 0;
	c->started = -1;
}

static uint8_t *eeprom_bytes(struct simchip *c)
{
	avr_eeprom_desc_t d = {.ee = NULL, .offset = 0, .size = EEPROM_SIZE};
	avr_ioctl(c->avr, AVR_IOCTL_EEPROM_GET, &d); /* its result tells nothing */
	if (!d.ee)
		die("eeprom", "the simulator has none");
	return d.ee;
}

/* load fills a memory from its file, or erases it when there is none. */
static void load(const char *path, uint8_t *memory, size_t size)
{
	memset(memory, 0xFF, size);
	FILE *in = path ? fopen(path, "rb") : NULL;
	if (in) {
		size_t n = fread(memory, 1, size, in);
		fclose(in);
		if (n != size)
			die(path, "not of this memory's size");
	} else if (path && errno != ENOENT) {
		die(path, strerror(errno));
	}
}

static void load_eeprom(struct simchip *c)
{
	load(c->eeprom_path, c->saved, EEPROM_SIZE);
	avr_eeprom_desc_t d = {.ee = c->saved, .offset = 0, .size = EEPROM_SIZE};
	avr_ioctl(c->avr, AVR_IOCTL_EEPROM_SET, &d);
}

/* keep writes a memory to its file if it differs from what was saved. */
static void keep(const char *path, const uint8_t *now, uint8_t *saved, size_t size)
{
	if (!path || memcmp(now, saved, size) == 0)
		return;
	char fresh[4096];
	snprintf(fresh, sizeof fresh, "%s.new", path);
	FILE *out = fopen(fresh, "wb");
	if (!out)
		die(fresh, strerror(errno));
	size_t n = fwrite(now, 1, size, out);
	if (fclose(out) != 0 || n != size || rename(fresh, path) != 0)
		die(path, strerror(errno));
	memcpy(saved, now, size);
}

void simchip_save(struct simchip *c)
{
	keep(c->eeprom_path, eeprom_bytes(c), c->saved, EEPROM_SIZE);
	keep(c->flash_path, c->avr->flash, c->saved_flash, FLASH_SIZE);
}

static void on_full(avr_irq_t *irq, uint32_t value, void *param)
{
	(void)irq;
	((struct simchip *)param)->uart_full = value != 0;
}

/* connect hooks up UART and converter. */
static void connect(struct simchip *c)
{
	avr_t *avr = c->avr;
	uint32_t flags = 0; /* no copy of the bytes on the simulator's console */
	avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_byte, c);
	avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUT_XOFF), on_full, c);
	c->adc = avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, 0);
	avr_irq_register_notify(c->adc + ADC_IRQ_OUT_TRIGGER, on_conversion, c);
	avr_irq_register_notify(avr_iomem_getirq(avr, ADCSRA, NULL, AVR_IOMEM_IRQ_ALL), on_adcsra, c);
}

/* make makes a chip without a program. */
static struct simchip *make(const char *eeprom, const struct waveform *w, uint32_t hz)
{
	struct simchip *c = calloc(1, sizeof *c);
	if (!c)
		die("start", "not enough memory");
	avr_global_logger_set(on_log);
	c->avr = avr_make_mcu_by_name("atmega328p");
	if (!c->avr)
		die("start", "the simulator does not know the ATmega328P");
	c->wave = w;
	c->eeprom_path = eeprom;
	c->started = -1;
	c->hz = hz;
	avr_init(c->avr);
	c->avr->frequency = hz;
	c->avr->vcc = c->avr->avcc = c->avr->aref = AVCC_MV;
	c->avr->sleep = on_sleep;
	sleeper = c;
	return c;
}

struct simchip *simchip_new(const char *elf, const char *eeprom, const struct waveform *w)
{
	static elf_firmware_t program;
	struct simchip *c = make(eeprom, w, SIMCHIP_HZ);
	if (elf_read_firmware(elf, &program) != 0)
		die(elf, "not a program for the board");
	avr_load_firmware(c->avr, &program);
	c->avr->frequency = SIMCHIP_HZ;
	c->avr->avcc = AVCC_MV;
	c->fixed = program.datasize + program.bsssize;
	memset(c->avr->data + RAM_START, PAINT, c->avr->ramend + 1 - RAM_START);
	load_eeprom(c);
	connect(c);
	return c;
}

/* load_hex puts the data of an Intel-hex file into the flash and returns its lowest address.
 * The simulator's own reader fails on boot loaders' files. */
static uint32_t load_hex(struct simchip *c, const char *path)
{
	FILE *in = fopen(path, "r");
	char text[600];
	uint32_t lowest = FLASH_SIZE;
	if (!in)
		die(path, strerror(errno));
	while (fgets(text, sizeof text, in)) {
		unsigned n, at, kind, x;
		if (sscanf(text, ":%2x%4x%2x", &n, &at, &kind) != 3)
			die(path, "not an Intel-hex file");
		if (kind != 0)
			continue;
		if (at + n > FLASH_SIZE)
			die(path, "a record past the end of the flash");
		lowest = at < lowest ? at : lowest;
		for (unsigned i = 0; i < n; i++) {
			if (sscanf(text + 9 + 2 * i, "%2x", &x) != 1)
				die(path, "a record that is too short");
			c->avr->flash[at + i] = (uint8_t)x;
		}
	}
	fclose(in);
	return lowest;
}

/* outside says that a reset came from outside, as boot loaders ask. */
static void outside(struct simchip *c)
{
	avr_regbit_set(c->avr, c->avr->reset_flags.extrf);
}

struct simchip *simchip_bare(const char *loader, const char *flash, const char *eeprom, const struct waveform *w,
                             uint32_t hz)
{
	struct simchip *c = make(eeprom, w, hz);
	c->flash_path = flash;
	load(flash, c->avr->flash, FLASH_SIZE);
	memcpy(c->saved_flash, c->avr->flash, FLASH_SIZE);
	c->avr->reset_pc = load_hex(c, loader);
	c->avr->codeend = c->avr->flashend;
	load_eeprom(c);
	connect(c);
	avr_reset(c->avr);
	outside(c);
	return c;
}

unsigned simchip_rate(const struct simchip *c)
{
	const uint8_t *d = c->avr->data;
	unsigned divider = d[UBRR0L] | (d[UBRR0H] & 15) << 8;
	return c->hz / ((d[UCSR0A] & U2X0 ? 8 : 16) * (divider + 1));
}

int simchip_take(struct simchip *c, uint8_t byte, int broken)
{
	if (!(c->avr->data[UCSR0B] & RXEN0))
		return 1;
	if (c->uart_full)
		return 0;
	avr_raise_irq(avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT),
	              byte | (broken ? UART_INPUT_FE : 0));
	return 1;
}

/* restarted does what goes with a reset of the simulated chip, whose cycle count was before. */
static void restarted(struct simchip *c, uint64_t before)
{
	c->base += before - c->avr->cycle; /* the simulator begins at 0 again */
	c->adc_on = 0;
	c->started = -1;
	c->uart_full = 0;
}

int simchip_run(struct simchip *c, uint64_t cycles)
{
	uint64_t end = simchip_cycles(c) + cycles;
	while (simchip_cycles(c) < end) {
		uint64_t before = c->avr->cycle;
		int state = avr_run(c->avr);
		if (c->avr->cycle < before) /* the watchdog has done it */
			restarted(c, before);
		if (state == cpu_Done || state == cpu_Crashed)
			return 0;
	}
	return 1;
}

const uint8_t *simchip_sent(struct simchip *c, size_t *n)
{
	*n = c->sent_len;
	c->sent_len = 0;
	return c->sent;
}

void simchip_reset(struct simchip *c)
{
	uint64_t before = c->avr->cycle;
	avr_reset(c->avr);
	restarted(c, before);
	outside(c);
}

uint64_t simchip_cycles(const struct simchip *c)
{
	return c->base + c->avr->cycle;
}

struct simchip_counts simchip_counts(const struct simchip *c)
{
	unsigned low = RAM_START + c->fixed;
	while (low <= c->avr->ramend && c->avr->data[low] == PAINT)
		low++;
	return (struct simchip_counts){
		.asleep = c->asleep,
		.bytes = c->bytes,
		.stack = c->avr->ramend + 1 - low,
		.fixed = c->fixed,
	};
}
