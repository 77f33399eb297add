package garage

import (
	"evendraw/internal/pressure"
)

// RecordRig is what of the rig changes a reading, beside the sensors' kinds, the zero and the match
// pass.
type RecordRig struct {
	Bits        int  `json:"bits"` // of the converter
	ReferenceMV int  `json:"reference_mv"`
	Ratiometric bool `json:"ratiometric"`
	Rate        int  `json:"rate"` // frames a second that the board announces
	// SupplyMV is the sensors' supply where the board is not ratiometric.
	SupplyMV int `json:"supply_mv"`
	// Channels are by cylinder, from cylinder 1.
	Channels []int `json:"channels"`
	// DriftKPa is by how much each cylinder's sensor had last been seen to have moved since the zero, the
	// engine being off; null where it was not.
	DriftKPa []NullKPa `json:"drift_kpa"`
	// CommonDriftKPa is the same of all together.
	CommonDriftKPa NullKPa `json:"common_drift_kpa"`
	// OffsetUncertaintyKPa are those of the zero pass, by channel.
	OffsetUncertaintyKPa []pressure.KPa `json:"offset_uncertainty_kpa"`
}
