package dashboard

import (
	"net/http"
)

// adviceView is one question with its fields and its answer.
type adviceView struct {
	chrome
	Topic string
	// System is the one that bare numbers of the form are in.
	System string
	// Needed and More are the fields; More stands open where something is
	// written there, or where an error may be about it.
	Needed, More []adviceField
	Open         bool
	Answer       *Advice
	Tone         string
}

// advicePage answers a question whose fields stand in the address, so that an
// answer can be kept as a link. It changes nothing.
func (s *server) advicePage(w http.ResponseWriter, r *http.Request) {
	topic, ok := s.adviceTopic(r.PathValue("topic"))
	if !ok {
		s.refusePage(w, r, http.StatusNotFound, "There is no such question here.")
		return
	}
	sys := s.prefsOf(r).Units
	v := &adviceView{chrome: s.chrome(r, sentence(topic.Help), placeStart), Topic: topic.Name, System: sys.String()}
	v.CanUnits = true
	form := newAdviceForm(r.URL.Query(), sys)
	for _, f := range topic.Fields {
		for n := range max(f.Times, 1) {
			field := form.field(f, n)
			if f.Needed && n == 0 {
				v.Needed = append(v.Needed, field)
				continue
			}
			v.More, v.Open = append(v.More, field), v.Open || field.written()
		}
	}
	if form.asked {
		s.answerAdvice(v, topic.Name, form)
	}
	s.write(w, r, "advice.html", v)
}

func (s *server) answerAdvice(v *adviceView, topic string, form *adviceForm) {
	err := form.err
	if err == nil {
		var a Advice
		if a, err = s.opt.Adviser.Advise(topic, form.values, form.shown); err == nil {
			v.Answer, v.Tone = &a, verdictTone(a.Verdict)
			return
		}
	}
	v.Trouble, v.Open = asSentence(err), true
}

func (s *server) adviceTopic(name string) (AdviceTopic, bool) {
	for _, t := range s.opt.Adviser.Topics() {
		if t.Name == name {
			return t, true
		}
	}
	return AdviceTopic{}, false
}
