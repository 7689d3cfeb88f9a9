package exported

import (
	"strconv"
	"strings"

	"headroom/daemon/parquetfile"
	"headroom/daemon/store"
	"headroom/sensors/csvfile"
)

// prefix stands before the names in a Parquet file's metadata.
const prefix = "headroom."

// repeated are the names that may stand there more than once.
var repeated = [...]string{"lost", "act", "event"}

// words are the head as a Parquet file's metadata: each name once.
func (h *Head) words() ([]parquetfile.Word, error) {
	list, err := h.notes()
	if err != nil {
		return nil, err
	}
	i := &h.Info
	out := []parquetfile.Word{
		{Key: prefix + "software", Value: i.Software}, {Key: prefix + "config", Value: i.ConfigHash},
		{Key: prefix + "machine", Value: i.Machine}, {Key: prefix + "boot", Value: strconv.FormatUint(i.Boot, 10)},
	}
	place := map[string]int{}
	for _, n := range list {
		if n.Key == configLine {
			continue
		}
		at, there := place[n.Key]
		if !there {
			place[n.Key] = len(out)
			out = append(out, parquetfile.Word{Key: prefix + n.Key, Value: n.Text})
			continue
		}
		out[at].Value += "\n" + n.Text
	}
	if len(i.ConfigText) > 0 {
		out = append(out, parquetfile.Word{Key: prefix + configLine, Value: string(i.ConfigText)})
	}
	return out, nil
}

// headFrom reads the head of a Parquet file.
func headFrom(r *parquetfile.Reader) (h Head, err error) {
	word := func(key string) string {
		text, _ := r.Word(prefix + key)
		return text
	}
	a := csvfile.About{Software: word("software"), Config: word("config"), Machine: word("machine")}
	a.Boot, _ = strconv.ParseUint(word("boot"), 10, 64) // 0 where it isn't known
	for _, key := range [...]string{"run", "from_ns", "to_ns", "lead_in", "start_wall", "source", "chain", "kept"} {
		if text, ok := r.Word(prefix + key); ok {
			a.Notes = append(a.Notes, csvfile.Note{Key: key, Text: text})
		}
	}
	for _, key := range repeated {
		if text, ok := r.Word(prefix + key); ok {
			for line := range strings.SplitSeq(text, "\n") {
				a.Notes = append(a.Notes, csvfile.Note{Key: key, Text: line})
			}
		}
	}
	if h, err = headOf(a); err != nil {
		return h, err
	}
	if text, ok := r.Word(prefix + configLine); ok {
		h.Info.ConfigText = []byte(text)
	}
	return h, nil
}

// chainText is the place in the chain as a report prints it.
func chainText(c store.Chain) string { return c.Record + " " + c.Head.String() }
