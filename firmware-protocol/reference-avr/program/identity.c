/*
 * identity.c - serial number and boot id in EEPROM.
 *
 * EEPROM, from address 16 (the first cells are those a failing supply is said
 * to hit first, so they stay unused):
 *
 *   16  serial number, 4 bytes, lowest first
 *   20  CRC-16/IBM-3740 of these 4 bytes, lowest first
 *   22  number of the last start, 2 bytes, lowest first
 *
 * Whoever wants to give out numbers by hand writes these six bytes; a blank
 * EEPROM makes the board choose.
 *
 * How it chooses: the watchdog has an oscillator of its own, which is no
 * crystal. Sixteen of its periods are measured against the processor's clock;
 * the lowest bits of such a measurement wander by themselves and differ from
 * chip to chip. Before each, all inputs, the internal temperature sensor and
 * the internal reference are converted, whose lowest bits are noise. All goes
 * into a 32-bit mix.
 *
 * Limits: this is chance, not a register of numbers given out. Were all 2^32
 * numbers alike likely, two boards out of 9 300 would share one with a chance
 * of one in a hundred; how even they are on real chips has not been measured.
 * A simulated board has neither noise nor a wandering oscillator and draws the
 * same number from the same voltages. Erasing the EEPROM gives another number.
 *
 * Boot id: the counter wraps after 65 536 starts. Its low cell is rewritten at
 * each start and is good for 100 000 writes by the data sheet; a worn cell
 * would show as a boot id that does not change. A supply that fails within the
 * 4 ms of the write may leave any number there, also the old one.
 */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#include "identity.h"
#include "wire.h"

enum {
	SERIAL_AT = 16,
	SERIAL_CRC_AT = 20,
	BOOT_AT = 22,
	MIX_ROUNDS = 16,
	MUX_TEMPERATURE = 8,
	MUX_BANDGAP = 14,
};

static volatile uint8_t watchdog_fired;
static volatile uint16_t watchdog_at;

ISR(WDT_vect)
{
	watchdog_at = TCNT1;
	watchdog_fired = 1;
}

/* mix stirs one byte into h; the factor is odd, so nothing is lost. */
static uint32_t mix(uint32_t h, uint8_t b)
{
	h = (h ^ b) * 0x9E3779B1ul;
	return h ^ (h >> 15);
}

static uint32_t mix16(uint32_t h, uint16_t v)
{
	return mix(mix(h, (uint8_t)v), (uint8_t)(v >> 8));
}

/*
 * watchdog_period waits for the watchdog's next time-out. That one interrupts;
 * another one without a call in between would reset the board, so a start that
 * hangs here is begun anew.
 */
static uint16_t watchdog_period(void)
{
	set_sleep_mode(SLEEP_MODE_IDLE);
	watchdog_fired = 0;
	cli();
	WDTCSR = _BV(WDE) | _BV(WDIE);
	while (!watchdog_fired) {
		sleep_enable();
		sei();
		sleep_cpu();
		sleep_disable();
		cli();
	}
	sei();
	return watchdog_at;
}

static uint32_t choose_serial(void)
{
	uint32_t h = 0;
	TCCR1A = 0;
	TCCR1B = _BV(CS10); /* free running at the processor's clock */
	cli();
	wdt_reset();
	WDTCSR = _BV(WDCE) | _BV(WDE);
	WDTCSR = _BV(WDE) | _BV(WDIE); /* shortest period: 16 ms */
	sei();
	for (uint8_t i = 0; i < MIX_ROUNDS; i++) {
		for (uint8_t mux = 0; mux <= MUX_TEMPERATURE; mux++)
			h = mix16(h, adc_once(mux));
		h = mix16(h, adc_once(MUX_BANDGAP));
		h = mix16(h, watchdog_period());
	}
	cli();
	wdt_disable();
	TCCR1B = 0;
	return h;
}

static uint16_t serial_crc(uint32_t serial)
{
	uint16_t crc = 0xFFFF;
	for (uint8_t i = 0; i < 4; i++)
		crc = wire_crc(crc, (uint8_t)(serial >> (8 * i)));
	return crc;
}

uint32_t identity_serial(void)
{
	uint32_t serial = eeprom_read_dword((const uint32_t *)SERIAL_AT);
	if (eeprom_read_word((const uint16_t *)SERIAL_CRC_AT) == serial_crc(serial))
		return serial;
	serial = choose_serial();
	eeprom_update_dword((uint32_t *)SERIAL_AT, serial);
	eeprom_update_word((uint16_t *)SERIAL_CRC_AT, serial_crc(serial));
	return serial;
}

uint16_t identity_boot(void)
{
	uint16_t boot = eeprom_read_word((const uint16_t *)BOOT_AT) + 1;
	eeprom_update_word((uint16_t *)BOOT_AT, boot);
	return boot;
}
