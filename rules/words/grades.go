package words

import (
	"headroom/rules/cavitation"
	"headroom/rules/engine"
)

// gradeWords are the grades of the signs of cavitation as people read them.
var gradeWords = [...]string{
	cavitation.CannotJudge: "can't be judged", cavitation.None: "no sign", cavitation.Possible: "possible",
	cavitation.Likely: "likely", cavitation.Severe: "severe",
}

// Grade returns the word for a rule's value where that is a grade and not an
// amount; ok is false for every other rule, and beyond the grades.
func Grade(r engine.RuleID, value float64) (word string, ok bool) {
	if r != engine.Cavitation || !(value >= 0 && value < float64(len(gradeWords))) {
		return "", false
	}
	return gradeWords[int(value)], true
}
