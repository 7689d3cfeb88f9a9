package config

// nearest returns the candidate with the fewest edits from word; ok is false
// where even that is too far to be a slip of the finger.
func nearest(word string, candidates []string) (best string, ok bool) {
	limit := max(2, len(word)/3)
	least := limit + 1
	for _, c := range candidates {
		if d := editDistance(word, c, least); d < least {
			best, least = c, d
		}
	}
	return best, least <= limit
}

// editDistance counts the letters to insert, delete, replace or swap with the
// neighbour to turn a into b, up to cut.
// Source: optimal string alignment, the restricted form of Damerau 1964.
func editDistance(a, b string, cut int) int {
	if d := len(a) - len(b); d >= cut || -d >= cut {
		return cut
	}
	before := make([]int, len(b)+1)
	above := make([]int, len(b)+1)
	row := make([]int, len(b)+1)
	for j := range above {
		above[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(above[j]+1, row[j-1]+1, above[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, above, row = above, row, before
	}
	return above[len(b)]
}
