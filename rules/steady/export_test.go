package steady

// Effective returns how many independent readings a series is worth: its
// length over one plus twice the sum of its autocorrelations, at most its
// length. A series of less than MinReadings, or with what is no number, gives
// ok false; one that never varies is worth its length.
// Source: Bayley and Hammersley, 1946; cut off by the initial positive
// sequence of Geyer, 1992, and never below what first-order noise gives.
func Effective(x []float64) (n float64, ok bool) {
	if len(x) < MinReadings {
		return 0, false
	}
	f, ok := fit(x)
	return f.effective, ok
}
