package chart

// Axis tells where a sheet's time axis lies in the picture, in the units of its
// width: a page needs it to tell a time from a place that somebody points at.
func (s *Sheet) Axis() (left, right, width float64) {
	return sheetLeft, sheetWidth - sheetRight, sheetWidth
}
