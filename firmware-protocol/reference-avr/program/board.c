/*
 * board.c - the reference board's program: an ATmega328P at 16 MHz samples
 * four pressure channels on A0 to A3 (and, built with LAMBDA=1, a lambda
 * channel on A4) at 1000 frames a second and sends them as ../../PROTOCOL.md says.
 *
 * Wiring: sensors fed from the board's 5 V, their outputs to A0, A1, ...; AREF
 * left open but for its capacitor; the serial bridge on TXD (PD1). The counts
 * are ratiometric: AVcc is both the sensors' supply and the reference.
 *
 * What runs when
 *   timer 1 compare  every sampling instant: starts channel 0's conversion
 *   ADC complete     stores a count, selects the next channel, starts it; after
 *                    the last hands the set to the main loop
 *   UART empty       sends the next byte of the announcement or of the ring
 *   main loop        builds frames; sleeps in between
 *
 * Instants, counter, overflow
 *   Every instant has a number, counted by the timer interrupt. A frame carries
 *   overflow = instant - counter, both from 0, so each instant that gave no
 *   frame shows in the next frame, whatever the reason: conversions unfinished,
 *   main loop late, no room in the ring. Nothing else counts overflow, so
 *   nothing can be counted twice or for the wrong frame.
 *
 * Tick and delays
 *   The tick goes up by exactly one period an instant. The converter's clock is
 *   16 MHz / 128: one cycle is 8 us, and a period is a whole number of them
 *   (125 at 1000 a second). The timer starts just after an edge of that clock.
 *   Hence: compare match; less than 5 us later the interrupt asks for a
 *   conversion; it begins at the next edge, 7.5 us after the match; the sample is
 *   taken 1.5 cycles, 12 us, after that. This instant, some 19.5 us after each
 *   match, is the tick: the clock's zero is chosen so that no constant is added.
 *   A conversion lasts 13 cycles, 104 us. The interrupt after it asks for the
 *   next within one cycle, so that one begins at the next edge: 14 cycles,
 *   112 us, from channel to channel. These 112 us are announced. An interrupt
 *   held up for more than a cycle would add 8 us; the UART's, the only frequent
 *   one, lets the others in, and the longest delay simulated is 76 of the cycle's
 *   128 clocks.
 *   The resonator's own error (0.5 %) is in the tick as in all else.
 *
 * Self-test: built with PATTERN=1 the board samples as ever, and sends, in place
 * of the counts, what pattern() says: to tell a fault of the line or the host
 * from one of the sensors. Its model is then reference-avr-pattern.
 *
 * RAM, of 2048 bytes: ring 256, announcement 384, two sets 24, the rest small;
 * the stack needs under 128. simboard --stats tells what was used.
 *
 * Room on the line: an announcement of 300 bytes takes 6 ms at 500 000 baud, in
 * which six frames of 24 bytes wait in the ring. At other rates and speeds,
 * (announcement's time + 1 period) x rate x frame's bytes must stay below 256.
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#include "identity.h"
#include "wire.h"

#ifndef BAUD
#define BAUD 500000
#endif
#ifndef RATE
#define RATE 1000
#endif
#ifndef LAMBDA
#define LAMBDA 0
#endif
#ifndef PATTERN
#define PATTERN 0
#endif

enum {
	CHANNELS = LAMBDA ? 5 : 4,
	LAMBDA_CHANNEL = LAMBDA ? 4 : WIRE_NO_LAMBDA,
	BITS = 10,
	REFERENCE_MV = 5000,
	SLOT_US = 112,
	FRAME_SIZE = WIRE_DATA_SIZE(CHANNELS),
	ANNOUNCEMENT_CAP = 384,
};

#define PERIOD_US (1000000ul / RATE)
#define TIMER_TOP (F_CPU / RATE - 1)
#define UBRR_VALUE (F_CPU / 8 / BAUD - 1)

_Static_assert(RATE <= 5000, "the protocol allows 5000 a second");
_Static_assert(1000000ul % RATE == 0, "a period must be whole microseconds");
_Static_assert(PERIOD_US % 8 == 0, "a period must be whole cycles of the converter's clock");
_Static_assert(TIMER_TOP <= 0xFFFF, "rate too low for timer 1");
_Static_assert(F_CPU % (8ul * BAUD) == 0, "baud rate is not exact at this clock");
_Static_assert(F_CPU == 16000000ul, "the delays above hold at 16 MHz");

#define MUX_AVCC _BV(REFS0)
#define ADC_ON (_BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0))
#define ADC_START (ADC_ON | _BV(ADIE) | _BV(ADSC))

#if PATTERN
static WIRE_FLASH char model[] = "reference-avr-pattern";
#else
static WIRE_FLASH char model[] = "reference-avr";
#endif
static WIRE_FLASH char program[] = "1.0.0";

/* What was written before is in memory before what is written after. */
#define BARRIER() __asm__ volatile("" ::: "memory")

/* One instant's counts. */
struct set {
	uint16_t instant;
	uint16_t count[CHANNELS];
};

/* Sampling. The interrupts fill one set; the other is the main loop's while
 * ready is set, and until then stays where it is. */
static struct set sets[2];
static struct set *filling = &sets[0];
static uint8_t channel;
static uint8_t sampling; /* a set is being converted */
static volatile uint8_t ready;
static uint16_t instant; /* number of the next instant */

/* Sending. The ring holds whole data frames; its indexes wrap by themselves.
 * A waiting announcement goes out when tail has come to announce_at, which is
 * always between two frames. */
static uint8_t ring[256];
static volatile uint8_t head, tail;
static uint8_t announcement[ANNOUNCEMENT_CAP];
static uint8_t *announcement_end;
static uint8_t *announce_next;
static uint8_t announce_at;
static volatile uint8_t announcing;

ISR(TIMER1_COMPA_vect)
{
	uint8_t busy = sampling;
	if (!busy) {
		ADCSRA = ADC_START;
		sampling = 1;
	}
	uint16_t i = instant;
	instant = i + 1;
	if (!busy)
		filling->instant = i;
}

/* hand_over gives the set just filled to the main loop. While that still has
 * the one before, the set is lost and its place is used again. */
static inline void hand_over(void)
{
	if (!ready) {
		filling = filling == &sets[0] ? &sets[1] : &sets[0];
		ready = 1;
	}
	sampling = 0;
}

ISR(ADC_vect)
{
	uint16_t count = ADC;
	uint8_t done = channel;
	uint8_t next = done + 1;
	if (next == CHANNELS)
		next = 0;
	channel = next;
	ADMUX = MUX_AVCC | next;
	if (next)
		ADCSRA = ADC_START;
	filling->count[done] = count;
	if (!next)
		hand_over();
}

/* This one is frequent and the longest; it lets the others in, for they must
 * be in time for the converter's clock. */
ISR(USART_UDRE_vect)
{
	UCSR0B = _BV(TXEN0);
	sei();
	uint8_t at = tail;
	if (announcing && at == announce_at) {
		uint8_t *p = announce_next;
		UDR0 = *p++;
		announce_next = p;
		if (p == announcement_end)
			announcing = 0;
	} else if (at != head) {
		UDR0 = ring[at];
		tail = at + 1;
	} else {
		return;
	}
	cli();
	UCSR0B = _BV(TXEN0) | _BV(UDRIE0);
}

static void start_sending(void)
{
	UCSR0B = _BV(TXEN0) | _BV(UDRIE0);
}

/* announce lets the announcement go out after the frames already waiting. */
static void announce(void)
{
	cli();
	if (!announcing) {
		announce_at = head;
		announce_next = announcement;
		announcing = 1;
	}
	start_sending();
	sei();
}

/* send puts one set on the line as a frame and reports whether it had room. */
static uint8_t send(const struct set *s, uint32_t tick, uint16_t seed, uint32_t counter)
{
	uint8_t block[FRAME_SIZE];
	struct wire_frame f = {
		.counter = counter,
		.tick = tick,
		.overflow = s->instant - (uint16_t)counter,
		.count = s->count,
		.channels = CHANNELS,
	};
	uint16_t len = wire_data(block, sizeof block, seed, &f);
	uint8_t at = head;
	uint8_t room = tail - at - 1;
	if (len == 0 || len > room)
		return 0;
	for (uint8_t i = 0; i < len; i++)
		ring[at++] = block[i];
	BARRIER();
	head = at; /* only now can the interrupt see it */
	start_sending();
	return 1;
}

static void uart_setup(void)
{
	UCSR0A = _BV(U2X0);
	UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
	UBRR0 = UBRR_VALUE;
	UCSR0B = _BV(TXEN0);
}

uint16_t adc_once(uint8_t mux)
{
	ADMUX = MUX_AVCC | mux;
	ADCSRA = ADC_ON | _BV(ADSC);
	while (ADCSRA & _BV(ADSC))
		;
	return ADC;
}

/* sampling_setup starts the timer just after an edge of the converter's clock:
 * the end of a conversion is such an edge. */
static void sampling_setup(void)
{
	TCCR1A = 0;
	TCCR1B = 0;
	OCR1A = TIMER_TOP;
	adc_once(0);
	TCNT1 = 0;
	TCCR1B = _BV(WGM12) | _BV(CS10);
	TIFR1 = _BV(OCF1A);
	TIMSK1 = _BV(OCIE1A);
	ADCSRA = ADC_ON | _BV(ADIF); /* what ended is no count of a frame */
}

static void setup(void)
{
	MCUSR = 0;
	wdt_disable();
	DIDR0 = 0x3F; /* A0 to A5 are analogue only */
	uart_setup();
	adc_once(0); /* turns the converter on; the first conversion is a long one */
	struct wire_board b = {
		.model = model,
		.program = program,
		.serial = identity_serial(),
		.boot = identity_boot(),
		.channels = CHANNELS,
		.lambda = LAMBDA_CHANNEL,
		.bits = BITS,
		.reference_mv = REFERENCE_MV,
		.rate = RATE,
		.slot_us = SLOT_US,
	};
	announcement_end = announcement + wire_announcement(announcement, sizeof announcement, &b);
	announce();
	cli();
	sampling_setup();
	sei();
}

/* wait_for_set sleeps until the interrupts have handed over a set. */
static struct set *wait_for_set(void)
{
	cli();
	while (!ready) {
		sleep_enable();
		sei(); /* takes effect after the next instruction: no wake-up is missed */
		sleep_cpu();
		sleep_disable();
		cli();
	}
	sei();
	return filling == &sets[0] ? &sets[1] : &sets[0];
}

/* pattern writes the counts of an engine that runs evenly: 128 instants a
 * cycle, cylinders dipping in the order 1-2-4-3, all alike, from 384 to 892; the
 * lambda channel stands at 512. */
static void pattern(struct set *s)
{
	static const uint8_t turn[4] = { 0, 32, 96, 64 };
	for (uint8_t i = 0; i < CHANNELS; i++)
		s->count[i] = i < 4 ? 384 + 4 * ((s->instant - turn[i]) & 127) : 512;
}

int main(void)
{
	uint32_t counter = 0, tick = 0;
	uint16_t seed = wire_seed(CHANNELS);
	uint16_t last = 0;      /* instant of the last set */
	uint16_t announced = 0; /* instant of the last announcement */
	set_sleep_mode(SLEEP_MODE_IDLE);
	setup();
	for (;;) {
		struct set *s = wait_for_set();
		if (PATTERN)
			pattern(s);
		tick += PERIOD_US * (uint16_t)(s->instant - last);
		last = s->instant;
		if ((uint16_t)(last - announced) >= RATE) {
			announced += RATE;
			announce();
		}
		counter += send(s, tick, seed, counter);
		BARRIER();
		ready = 0;
	}
}
