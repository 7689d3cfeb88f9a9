package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed report.html
var layout string

//go:embed report.css
var sheetStyle string

// WriteHTML writes the report as one file that needs nothing else.
func (p *Report) WriteHTML(w io.Writer) error {
	t, err := template.New("report").Funcs(template.FuncMap{
		"style": func() template.CSS { return template.CSS(sheetStyle) }, // #nosec: our own file.
	}).Parse(layout)
	if err != nil {
		return fmt.Errorf("cannot read the report's layout: %w", err)
	}
	if err := t.Execute(w, p.view()); err != nil {
		return fmt.Errorf("cannot write the report: %w", err)
	}
	return nil
}
