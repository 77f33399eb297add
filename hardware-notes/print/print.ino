// Prints the counts of four sensors on A0 to A3, 250 rows a second, for evendraw: the printed dialect
// of firmware-protocol/PROTOCOL.md. For boards that the board program is not for. The first number of
// a row is the time in microseconds, so that lost rows show. Other boards: change the three remarks,
// which come again and again because a program that listens may have come late.
const uint8_t pins[] = {A0, A1, A2, A3};
const uint32_t period = 4000; // microseconds; a row of 31 bytes takes 2700 of them at 115200 bit/s
uint32_t due;
uint8_t rows;

void setup() {
  Serial.begin(115200);
  due = micros();
}

void loop() {
  if ((int32_t)(micros() - due) < 0) return;
  Serial.print(due);
  for (uint8_t pin : pins) { Serial.print(','); Serial.print(analogRead(pin)); }
  Serial.println();
  switch (rows++ % 20) {
  case 0: Serial.println(F("# serial MY-BOARD-1")); break;              // a name of its own for each board
  case 1: Serial.println(F("# bits 10")); break;                        // of the converter
  case 2: Serial.println(F("# reference_mv 5000 ratiometric")); break;  // feeds the sensors too
  }
  while ((int32_t)(micros() - due) >= 0) due += period;
}
