package pressure

import "math"

// What an idle draws. Twenty to thirty kPa at sea level is common practice, no source; measured on practice engines,
// as the mean over whole cycles, all cylinders firing: 25.3 kPa at 1050 rpm and 101.3 kPa, 22.8 at 1500 rpm, 20.4 at
// 2000, and at 1050 rpm 12.3 and 6.5 at 75 and 60 kPa, which goes with the air pressure to the power of drawPower.
const (
	seaLevelDraw  KPa = 25.3
	seaLevel      KPa = 101.3
	drawPower         = 2.5
	strainedShare     = 0.68
)

// IdleDraw returns about what an engine draws at idle in air of that pressure, kPa below it.
func IdleDraw(ambient KPa) KPa {
	return seaLevelDraw * KPa(math.Pow(float64(ambient/seaLevel), drawPower))
}

// StrainedDraw returns the mean draw below which it is in doubt that every cylinder fires: those that do must carry the
// others, and their butterflies stand wide open. Chosen, between sound idles and such engines, as shares of IdleDraw:
// practice engines 0.8 and more up to 2000 rpm, and 0.4 to 0.7 with one cylinder dead and the throttle stop screwed in;
// of another model 0.75 and more of 250 sound ones, and 0.1 to 0.55 of 35 others. With 0.6 fours with a dead cylinder,
// of even and uneven cranks, were not in doubt, 0 of 8. A sound engine with much valve overlap draws 13 to 17 kPa
// (common practice, from memory): it is asked, and the answer kept.
func StrainedDraw(ambient KPa) KPa { return strainedShare * IdleDraw(ambient) }
