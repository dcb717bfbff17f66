package batch

import "io"

func (f *Folder) writeIndex(w io.Writer, records []*Record) error { return nil }
