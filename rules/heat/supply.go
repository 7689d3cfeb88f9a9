package heat

// DefaultSupplyLimitK is the highest supply temperature pumps of this kind are
// commonly run at, 60 C or 140 F. Common practice, no source; the pump's own
// plate decides.
const DefaultSupplyLimitK = 333.15
