package config

import (
	"strings"

	"headroom/rules/frame"
	"headroom/rules/units"
)

// deriveCSV completes the columns and finds what is wrong with them.
func (d *decoder) deriveCSV(whole bool) {
	seen := map[frame.Channel]string{}
	for i := range d.cfg.CSV.Columns {
		d.deriveColumn(i, element("csv.column", i+1), seen)
	}
	if whole && len(d.cfg.CSV.Columns) > 0 {
		d.checkTime()
	}
	if whole && d.cfg.CSV.DecimalComma && d.cfg.CSV.Delimiter == ',' {
		d.report(d.where("csv.decimal", "csv.delimiter"), "csv.decimal", "the comma cannot be both decimal mark and delimiter", `write delimiter = ";" or decimal = "."`)
	}
}

func (d *decoder) deriveColumn(i int, path string, seen map[frame.Channel]string) {
	col := &d.cfg.CSV.Columns[i]
	ch, ok := frame.ByName(col.channel)
	col.Channel = ch
	if !ok {
		return // told already, as missing or as not allowed
	}
	if first, twice := seen[ch]; twice {
		d.report(d.where(path+".channel"), path+".channel", col.channel+" is fed by "+first+" already", "keep one")
	}
	seen[ch] = path
	if !d.cfg.Engine.Signals[ch].Fitted {
		d.report(d.where(path+".channel"), path+".channel", col.channel+" is not fitted, so the column would be lost", "write fitted = true under [channels."+col.channel+"]")
	}
	if !d.set[path+".unit"] {
		return
	}
	col.Unit, ok = units.Lookup(ch.Quantity(), col.symbol)
	if !ok {
		allowed := strings.Join(units.Symbols(ch.Quantity()), ", ")
		if allowed == "" {
			allowed = `""`
		}
		d.report(d.where(path+".unit"), path+".unit", shortQuote(col.symbol)+" is no unit of "+col.channel, "allowed: "+allowed)
	}
	if d.set[path+".scale"] && col.Scale == 0 {
		d.report(d.where(path+".scale"), path+".scale", "is 0, so every value would be the same", "leave it out for 1")
	}
}

func (d *decoder) checkTime() {
	at := d.where("csv.time.column", "csv.time.format", "csv.time.unit", "csv.column[1]")
	t := &d.cfg.CSV.Time
	if !d.wrote("csv.time.column") {
		d.report(at, "csv.time.column", "is missing: without a time the columns mean nothing", `write [csv.time] and column = "time"`)
		return
	}
	switch {
	case d.wrote("csv.time.format") && d.wrote("csv.time.unit") && t.Format != Epoch:
		d.report(at, "csv.time", "has a format and a unit", "a date has a format, a number has a unit; keep one, or write format = \"epoch\" for a number that counts from 1970")
	case t.Format == Epoch && t.DateColumn != "":
		d.report(d.where("csv.time.date_column"), "csv.time.date_column", "has no place beside a number that counts from 1970", "leave it out")
	case t.Format == "" && t.Unit == "" && !d.wrote("csv.time.format") && !d.wrote("csv.time.unit"):
		d.report(at, "csv.time", "has neither a format nor a unit", `write format = "YYYY-MM-DD hh:mm:ss" for dates or unit = "s" for numbers`)
	}
}
