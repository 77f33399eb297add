/*
 * wire.c - see wire.h. Plain C, no device header.
 */
#include "wire.h"

static WIRE_FLASH char layout_text[] = "counter:u32 tick:u32 overflow:u16 count:u16*";

/*
 * CRC-16 of polynomial 1021, most significant bit first, a byte at a time
 * without a table. Let x be the byte joined with the upper half of the CRC.
 * Shifting x out by eight places feeds the polynomial's taps 12, 5 and 0 with
 * each of its bits; the upper four bits pass tap 12 once more on their way,
 * which is what x ^= x >> 4 does beforehand. So the new CRC is the old lower
 * half moved up, joined with x << 12, x << 5 and x. The halves are worked out
 * apart, for the AVR shifts single bytes.
 */
uint16_t wire_crc(uint16_t crc, uint8_t b)
{
	uint8_t x = (uint8_t)(crc >> 8) ^ b;
	x ^= x >> 4;
	uint8_t high = (uint8_t)crc ^ (uint8_t)(x << 4) ^ (x >> 3);
	uint8_t low = (uint8_t)(x << 5) ^ x;
	return (uint16_t)(high << 8 | low);
}

uint16_t wire_seed(uint8_t n)
{
	uint16_t crc = WIRE_ANNOUNCEMENT_SEED;
	for (WIRE_FLASH char *p = layout_text; *p; p++)
		crc = wire_crc(crc, (uint8_t)*p);
	return wire_crc(crc, '0' + n);
}

/* append writes one byte as it is. */
static void append(struct wire_out *o, uint8_t b)
{
	if (o->len < o->cap)
		o->buf[o->len++] = b;
	else
		o->full = 1;
}

/* new_piece opens a COBS piece: its code byte counts itself. */
static void new_piece(struct wire_out *o)
{
	o->code = o->len;
	append(o, 1);
}

void wire_start(struct wire_out *o, uint8_t *buf, uint16_t cap)
{
	o->buf = buf;
	o->cap = cap;
	o->len = 0;
	o->full = 0;
	new_piece(o);
}

/*
 * wire_stuff adds a plain byte. A piece that has grown to 254 bytes stays
 * open until the next byte comes: if none comes, nothing may follow it.
 */
void wire_stuff(struct wire_out *o, uint8_t b)
{
	if (o->full)
		return;
	if (o->buf[o->code] == 0xFF)
		new_piece(o);
	if (b == 0) {
		new_piece(o);
		return;
	}
	append(o, b);
	if (!o->full)
		o->buf[o->code]++;
}

/* put adds a payload byte that the CRC covers. */
static void put(struct wire_out *o, uint8_t b)
{
	o->crc = wire_crc(o->crc, b);
	wire_stuff(o, b);
}

static void put16(struct wire_out *o, uint16_t v)
{
	put(o, (uint8_t)v);
	put(o, (uint8_t)(v >> 8));
}

static void put32(struct wire_out *o, uint32_t v)
{
	put16(o, (uint16_t)v);
	put16(o, (uint16_t)(v >> 16));
}

static void put_text(struct wire_out *o, WIRE_FLASH char *s)
{
	while (*s)
		put(o, (uint8_t)*s++);
}

static void put_decimal(struct wire_out *o, uint16_t v)
{
	uint8_t digit[5], n = 0;
	do {
		digit[n++] = '0' + v % 10;
		v /= 10;
	} while (v);
	while (n)
		put(o, digit[--n]);
}

static void put_hex(struct wire_out *o, uint32_t v, uint8_t digits)
{
	while (digits) {
		uint8_t d = (uint8_t)(v >> (4 * --digits)) & 15;
		put(o, d < 10 ? '0' + d : 'A' - 10 + d);
	}
}

/* open_block writes the first delimiter and the type. */
static void open_block(struct wire_out *o, uint8_t *buf, uint16_t cap, uint16_t seed, uint8_t type)
{
	o->crc = seed;
	o->buf = buf;
	o->cap = cap;
	o->len = 0;
	o->full = 0;
	append(o, 0);
	new_piece(o);
	put(o, type);
}

/* close_block adds the CRC and the last delimiter and returns the length. */
static uint16_t close_block(struct wire_out *o)
{
	uint16_t crc = o->crc;
	wire_stuff(o, (uint8_t)crc);
	wire_stuff(o, (uint8_t)(crc >> 8));
	append(o, 0);
	return o->full ? 0 : o->len;
}

uint16_t wire_data(uint8_t *buf, uint16_t cap, uint16_t seed, const struct wire_frame *f)
{
	struct wire_out o;
	open_block(&o, buf, cap, seed, 'D');
	put32(&o, f->counter);
	put32(&o, f->tick);
	put16(&o, f->overflow);
	for (uint8_t i = 0; i < f->channels; i++)
		put16(&o, f->count[i]);
	return close_block(&o);
}

/* These keep one announcement line each in one place. */
#define LINE(o, name, value)                                                       \
	do {                                                                       \
		static WIRE_FLASH char text[] = name;                              \
		put_text(o, text);                                                 \
		value;                                                             \
		put(o, '\n');                                                      \
	} while (0)

static void put_channel(struct wire_out *o, const struct wire_board *b, uint8_t i)
{
	static WIRE_FLASH char pressure[] = " pressure kPa ";
	static WIRE_FLASH char lambda[] = " lambda lambda ";
	put_decimal(o, i);
	put_text(o, i == b->lambda ? lambda : pressure);
	put_decimal(o, i * b->slot_us);
}

static void put_layout(struct wire_out *o, uint8_t channels)
{
	put_text(o, layout_text);
	put_decimal(o, channels);
}

uint16_t wire_announcement(uint8_t *buf, uint16_t cap, const struct wire_board *b)
{
	static WIRE_FLASH char ratiometric[] = " ratiometric";
	struct wire_out o;
	open_block(&o, buf, cap, WIRE_ANNOUNCEMENT_SEED, 'A');
	LINE(&o, "evendraw-board ", put_decimal(&o, WIRE_VERSION));
	LINE(&o, "model ", put_text(&o, b->model));
	LINE(&o, "serial ", put_hex(&o, b->serial, 8));
	LINE(&o, "boot ", put_hex(&o, b->boot, 4));
	LINE(&o, "program ", put_text(&o, b->program));
	LINE(&o, "layout ", put_layout(&o, b->channels));
	LINE(&o, "bits ", put_decimal(&o, b->bits));
	LINE(&o, "reference_mv ", (put_decimal(&o, b->reference_mv), put_text(&o, ratiometric)));
	LINE(&o, "rate ", put_decimal(&o, b->rate));
	for (uint8_t i = 0; i < b->channels; i++)
		LINE(&o, "channel ", put_channel(&o, b, i));
	return close_block(&o);
}
