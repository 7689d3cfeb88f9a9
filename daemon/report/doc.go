// Package report makes the printable report of a run: one HTML file with its
// style and charts inside and no script, that any browser shows and prints on A4
// or Letter, and that a browser on the same machine turns into a PDF. It says
// what happened in the words of daemon/review, with each sentence's number drawn
// into the charts, under which settings it was judged, and what the record can
// not tell.
//
// It owns the layout, the choice of charts and the run of the browser. It refuses
// to judge, to leave out what speaks against anybody, and to claim more than the
// record proves. The same record gives the same bytes.
package report
