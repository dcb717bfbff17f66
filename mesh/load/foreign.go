package load

import (
	"bytes"

	"skinstock/mesh/file"
)

// asTriangles is the remedy for what is in no form that can be read.
const asTriangles = "export the part as triangles: STL, 3MF, OBJ, OFF or PLY"

// Signatures of files that are often named by mistake, as their own standards
// give them: PNG (ISO/IEC 15948, 5.2), JPEG (ISO/IEC 10918-1, B.1.1.3), GIF89a,
// PDF (ISO 32000-1, 7.5.2), gzip (RFC 1952, 2.3.1), STEP (ISO 10303-21, 5.4).
// None can begin an STL file that is meant: its text begins with "solid", its
// binary header is free text, in which only the words could stand, and those
// are looked for with what follows them.
var foreign = [...]struct {
	begins, name, remedy string
}{
	{"\x89PNG\r\n\x1a\n", "a PNG picture", "name the part's own file"},
	{"\xff\xd8\xff", "a JPEG picture", "name the part's own file"},
	{"GIF89a", "a GIF picture", "name the part's own file"},
	{"%PDF-", "a PDF document", "name the part's own file"},
	{"\x1f\x8b\x08", "compressed with gzip", "unpack it first"},
	{"ISO-10303-21;", "a STEP file, which holds curved surfaces", asTriangles},
}

// knownForeign returns an error that names what a file is when its first bytes
// show that it is no part.
func knownForeign(head []byte) error {
	for _, f := range foreign {
		if bytes.HasPrefix(head, []byte(f.begins)) {
			return &file.Error{Offset: -1, Found: "the file is " + f.name + ", not a mesh", Remedy: f.remedy, Err: file.ErrFormat}
		}
	}
	return nil
}
