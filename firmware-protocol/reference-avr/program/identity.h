/*
 * identity.h - which board this is and how often it has started, kept in
 * EEPROM over power-off.
 */
#ifndef IDENTITY_H
#define IDENTITY_H

#include <stdint.h>

/* The board's own number. On a blank or damaged EEPROM a new one is made
 * and written, which takes a quarter of a second and lets interrupts run.
 * The converter must be on. */
uint32_t identity_serial(void);

/* The number of this start: one more than the last time. */
uint16_t identity_boot(void);

/* Starts one conversion of the input that mux selects and waits for it. */
uint16_t adc_once(uint8_t mux);

#endif
