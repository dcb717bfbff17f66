// Package html writes the report page: one file with pictures, charts, tables
// and an interactive view of the part, which opens from disk without a
// network, prints on A4 and reads without scripts.
//
// The page is plain data: figures and tables as text that the caller has
// written, pictures from report/sheet. Every text is escaped here.
//
//	page := &html.Page{Part: "arm.stl", Verdict: html.Verdict{Word: "suited"}, ...}
//	if err := page.AddPictures(ctx, stage, nil); err != nil { ... }
//	err := page.Write(w)
package html
