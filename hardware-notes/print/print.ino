// Prints the counts of four sensors on A0 to A3, 250 rows a second, for evendraw: the printed dialect
// of firmware-protocol/PROTOCOL.md. For boards that the board program is not for. The first number of
// a row is the time in microseconds, so that lost rows show. Other boards: change the three remarks.
const uint8_t pins[] = {A0, A1, A2, A3};
const uint32_t period = 4000; // microseconds; a row of 31 bytes takes 2700 of them at 115200 bit/s
uint32_t due;

void setup() {
  Serial.begin(115200);
  Serial.println(F("# serial MY-BOARD-1"));               // a name of its own for each board
  Serial.println(F("# bits 10"));                         // of the converter
  Serial.println(F("# reference_mv 5000 ratiometric"));   // its reference, which feeds the sensors too
  due = micros();
}

void loop() {
  if ((int32_t)(micros() - due) < 0) return;
  Serial.print(due);
  for (uint8_t pin : pins) { Serial.print(','); Serial.print(analogRead(pin)); }
  Serial.println();
  while ((int32_t)(micros() - due) >= 0) due += period;
}
