package dashboard

import (
	"net/http"
	"strconv"
	"strings"
)

// adviceView is one question with its fields and its answer.
type adviceView struct {
	chrome
	Topic  string
	Help   string
	Fields []adviceField
	Answer *Advice
	Tone   string
}

// adviceField is a field with what was written into it.
type adviceField struct {
	AdviceField
	ID, Value string
}

// advicePage answers a question whose fields stand in the address, so that an
// answer can be kept as a link. It changes nothing.
func (s *server) advicePage(w http.ResponseWriter, r *http.Request) {
	topic, ok := s.adviceTopic(r.PathValue("topic"))
	if !ok {
		s.refusePage(w, r, http.StatusNotFound, "There is no such question here.")
		return
	}
	q, sys := r.URL.Query(), s.prefsOf(r).Units
	v := &adviceView{chrome: s.chrome(r, sentence(topic.Help), placeStart), Topic: topic.Name, Help: topic.Help}
	v.CanUnits = true
	values, asked := map[string][]string{}, false
	for _, f := range topic.Fields {
		texts := q[f.Name]
		for n := range max(f.Times, 1) {
			field := adviceField{AdviceField: f, ID: f.Name + strconv.Itoa(n)}
			if n < len(texts) {
				field.Value = strings.TrimSpace(texts[n])
			}
			if field.Value != "" {
				values[f.Name] = append(values[f.Name], field.Value)
			}
			if n > 0 {
				field.Label += ", once more"
			}
			v.Fields = append(v.Fields, field)
		}
		asked = asked || q.Has(f.Name)
	}
	if asked {
		a, err := s.opt.Adviser.Advise(topic.Name, values, sys)
		if err != nil {
			v.Trouble = asSentence(err)
		} else {
			v.Answer, v.Tone = &a, verdictTone(a.Verdict)
		}
	}
	s.write(w, r, "advice.html", v)
}

func (s *server) adviceTopic(name string) (AdviceTopic, bool) {
	for _, t := range s.opt.Adviser.Topics() {
		if t.Name == name {
			return t, true
		}
	}
	return AdviceTopic{}, false
}
