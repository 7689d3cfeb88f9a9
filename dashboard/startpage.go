package dashboard

import (
	"errors"
	"net/http"
	"strconv"

	"headroom/daemon/checklist"
)

// startView is the page before the start.
type startView struct {
	chrome
	Items []checkItem
	Who   string
	// Last is how the last round went; empty without one.
	Last, LastBy string
	LastOpen     bool
	// HasList, HasSupply and Topics say what this program offers here.
	HasList, HasSupply bool
	Topics             []AdviceTopic
	// ListKey names the list, so that a round over an older one is refused.
	ListKey string
}

type checkItem struct {
	N         int
	Text, Why string
}

// listView is the page where the list is changed.
type listView struct {
	chrome
	Text, Usual string
	Max         int
}

// startSaid are the answers after a change, by their names in the address.
var startSaid = map[string]string{
	"round": "Written into the record.",
	"kept":  "Kept on this machine; no record is being written.",
	"list":  "The list is changed.",
}

func (s *server) startPage(w http.ResponseWriter, r *http.Request) {
	s.showStart(w, r, http.StatusOK, "")
}

func (s *server) showStart(w http.ResponseWriter, r *http.Request, code int, trouble string) {
	v := &startView{chrome: s.chrome(r, "Before the start", placeStart), Who: cookieName(r), HasList: s.opt.Checklist != nil}
	v.Here, v.Trouble, v.Said = placeStart, trouble, saidOf(r, startSaid)
	if s.opt.Adviser != nil {
		v.HasSupply, v.Topics = true, s.opt.Adviser.Topics()
	}
	if s.opt.Checklist != nil {
		s.fillChecklist(v)
	}
	s.writeCode(w, r, code, "start.html", v)
}

func (s *server) fillChecklist(v *startView) {
	list, err := s.opt.Checklist.List()
	if err != nil && v.Trouble == "" {
		v.Trouble = asSentence(err)
	}
	for i, it := range list.Items {
		v.Items = append(v.Items, checkItem{i, it.Text, it.Why})
	}
	v.ListKey = listKey(list)
	last, ok, err := s.opt.Checklist.Last()
	switch {
	case err != nil && v.Trouble == "":
		v.Trouble = asSentence(err)
	case ok:
		v.Last, v.LastOpen = last.Words(), !last.Whole()
		v.LastBy = last.When.Local().Format("2006-01-02 15:04") + " by " + last.Who
	}
}

var errListChanged = errors.New("the list was changed while this page was open: go through it again")

// goRound takes a round of the list.
func (s *server) goRound(w http.ResponseWriter, r *http.Request) {
	said, err := s.round(r)
	if err != nil {
		s.showStart(w, r, http.StatusConflict, asSentence(err))
		return
	}
	http.Redirect(w, r, placeStart+"?said="+said, http.StatusSeeOther)
}

func (s *server) round(r *http.Request) (said string, err error) {
	list, _ := s.opt.Checklist.List() // what is shown is what counts
	if r.PostFormValue("list") != listKey(list) {
		return "", errListChanged
	}
	marks := make([]checklist.Mark, len(list.Items))
	for i := range marks {
		switch r.PostFormValue("item" + strconv.Itoa(i)) {
		case "done":
			marks[i] = checklist.Done
		case "not_here":
			marks[i] = checklist.NotHere
		}
	}
	round, err := list.Go(marks, s.whoOf(r), r.PostFormValue("remark"), s.opt.Now())
	if err != nil {
		return "", err
	}
	if err := s.opt.Checklist.SetLast(round); err != nil {
		return "", err
	}
	if s.opt.Note == nil {
		return "kept", nil
	}
	return "round", s.note(r.Context(), "checklist", round.Words(), round.Who)
}

func (s *server) listPage(w http.ResponseWriter, r *http.Request) {
	list, err := s.opt.Checklist.List()
	trouble := ""
	if err != nil {
		trouble = asSentence(err)
	}
	s.showList(w, r, http.StatusOK, list.String(), trouble)
}

func (s *server) showList(w http.ResponseWriter, r *http.Request, code int, text, trouble string) {
	v := &listView{chrome: s.chrome(r, "Change the checklist", placeStart), Text: text, Usual: s.opt.Checklist.Default().String(), Max: checklist.MaxItems}
	v.Trouble = trouble
	s.writeCode(w, r, code, "list.html", v)
}

// setList puts a changed list in force; with the button for it, the usual one.
func (s *server) setList(w http.ResponseWriter, r *http.Request) {
	text := r.PostFormValue("text")
	list, err := checklist.Parse(text)
	if r.PostFormValue("usual") != "" {
		list, err = s.opt.Checklist.Default(), nil
	}
	if err == nil {
		err = s.opt.Checklist.SetList(list)
	}
	if err != nil {
		s.showList(w, r, http.StatusBadRequest, text, asSentence(err))
		return
	}
	http.Redirect(w, r, placeStart+"?said=list", http.StatusSeeOther)
}
