/*
 * wire.h - the bytes a board sends: CRC, COBS, data frames and announcements
 * as ../../PROTOCOL.md defines them.
 *
 * This part knows nothing of the AVR: no device header, no allocation, no
 * floating point. It compiles with a host compiler too, where vectors_test.c
 * checks it against the protocol's vectors. Another board's program can take
 * wire.h and wire.c as they are.
 *
 * All output goes through struct wire_out, which takes the plain payload byte
 * by byte and writes the encoded block into a buffer. So an announcement never
 * lies in memory twice.
 */
#ifndef WIRE_H
#define WIRE_H

#include <stdint.h>

/* Texts stay in flash on an AVR, which has 2 KB of RAM. */
#ifdef __AVR__
#define WIRE_FLASH const __flash
#else
#define WIRE_FLASH const
#endif

enum {
	WIRE_VERSION = 1,
	WIRE_MAX_CHANNELS = 8,
	WIRE_NO_LAMBDA = 0xFF,
	/* Two delimiters, one COBS code (a data payload is below 254 bytes),
	 * type, counter, tick, overflow and CRC; to this come two a channel. */
	WIRE_DATA_BASE = 2 + 1 + 1 + 4 + 4 + 2 + 2,
};

/* Length of a data frame with n channels as it goes out. */
#define WIRE_DATA_SIZE(n) (WIRE_DATA_BASE + 2 * (n))

/* Where an announcement's CRC starts. */
#define WIRE_ANNOUNCEMENT_SEED 0xFFFFu

/* A block under construction. */
struct wire_out {
	uint8_t *buf;
	uint16_t cap;  /* bytes in buf */
	uint16_t len;  /* bytes written */
	uint16_t code; /* where the open COBS piece has its code byte */
	uint16_t crc;
	uint8_t full;  /* a byte found no room: the block is worthless */
};

/* What the board sampled at one instant. */
struct wire_frame {
	uint32_t counter;
	uint32_t tick;
	uint16_t overflow;
	const uint16_t *count; /* one a channel */
	uint8_t channels;
};

/* What the board says of itself. */
struct wire_board {
	WIRE_FLASH char *model;
	WIRE_FLASH char *program;
	uint32_t serial; /* announced as eight hexadecimal digits */
	uint16_t boot;   /* announced as four */
	uint8_t channels;
	uint8_t lambda;  /* the channel with that role, or WIRE_NO_LAMBDA */
	uint8_t bits;
	uint16_t reference_mv;
	uint16_t rate;
	uint16_t slot_us; /* channel i is sampled i slots after the tick */
};

/* The CRC after byte b, when it was crc before. */
uint16_t wire_crc(uint16_t crc, uint8_t b);

/* Start value of the CRC of data frames with n channels. */
uint16_t wire_seed(uint8_t n);

/* COBS alone: start a sequence of pieces in buf, add one plain byte. */
void wire_start(struct wire_out *o, uint8_t *buf, uint16_t cap);
void wire_stuff(struct wire_out *o, uint8_t b);

/* Both write one whole block with its delimiters to buf and return its
 * length, or 0 if it did not fit in cap bytes. */
uint16_t wire_data(uint8_t *buf, uint16_t cap, uint16_t seed, const struct wire_frame *f);
uint16_t wire_announcement(uint8_t *buf, uint16_t cap, const struct wire_board *b);

#endif
