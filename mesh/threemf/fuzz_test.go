package threemf

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"

	"skinstock/mesh/file/filetest"
)

// FuzzModel reads anything as the model part of a package.
func FuzzModel(f *testing.F) {
	f.Add([]byte(plain))
	f.Add([]byte(strings.Replace(plain, `<item objectid="1"/>`, `<item objectid="1" transform="0 1 0 -1 0 0 0 0 2 20 0 0"/>`, 1)))
	f.Add([]byte(`<?xml version="1.0"?><c:model xmlns:c="` + coreURI + `" unit='inch'><!-- x --><c:metadata name="Title">a<![CDATA[b]]>&#99;</c:metadata><c:resources><c:object id="1" name="&lt;"><c:mesh/></c:object><c:object id="2"><c:components><c:component objectid="1"/></c:components></c:object></c:resources><c:build><c:item objectid="2"/></c:build></c:model>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		x := newXMLReader(bytes.NewReader(data))
		count := 0
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		m, err := readModel(x, "m", 1000, &count)
		b := &build{opt: Options{MaxFacets: 1000}, root: m, models: map[string]*model{"m": m}}
		if err == nil {
			for _, o := range m.objects {
				b.storage += int64(len(o.triangles) + len(o.vertices))
			}
			err = b.run("m")
		}
		runtime.ReadMemStats(&after)
		// The window doubles up to the longest tag; an object takes some hundred bytes for its tag of 20.
		if got, most := after.TotalAlloc-before.TotalAlloc, uint64(1<<20+200*len(data)); got > most {
			t.Errorf("%d bytes allocated for %d", got, len(data))
		}
		if err != nil {
			filetest.OneLine(t, err)
			return
		}
		if n := len(b.part.Soup.Corners); n == 0 || n > 1000 {
			t.Errorf("%d facets", n)
		}
	})
}

// FuzzXML compares the tags with those of the standard library, which is
// stricter in some things: where it accepts a text that is accepted here, both
// have to see the same. It leaves tabs and line ends in values, where the
// standard of XML has spaces.
func FuzzXML(f *testing.F) {
	f.Add([]byte(plain))
	f.Add([]byte(`<a b="&lt;&#x41;>" c='"'><!-- <x> --><?pi <y> ?><b/><![CDATA[<z>]]></a>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		mine, err := myTags(data)
		if err != nil {
			return
		}
		theirs, err := theirTags(data)
		spaced := strings.NewReplacer("\t", " ", "\r", " ", "\n", " ")
		if mine, theirs = spaced.Replace(mine), spaced.Replace(theirs); err == nil && mine != theirs {
			t.Errorf("tags\n%q, the standard library has\n%q", mine, theirs)
		}
	})
}

func myTags(data []byte) (string, error) {
	var b strings.Builder
	x := newXMLReader(bytes.NewReader(data))
	for {
		tok, err := x.next()
		if err != nil {
			return "", err
		}
		switch tok {
		case endOfFile:
			return b.String(), nil
		case endTag:
			b.WriteString("/")
		case startTag:
			b.WriteString("<" + string(x.name))
			for _, a := range x.attrs {
				b.WriteString(" " + string(a.prefix) + ":" + string(a.name) + "=" + string(a.value))
			}
		}
	}
}

func theirTags(data []byte) (string, error) {
	var b strings.Builder
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		tok, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return b.String(), nil
		}
		if err != nil {
			return "", err
		}
		switch tok := tok.(type) {
		case xml.EndElement:
			b.WriteString("/")
		case xml.StartElement:
			b.WriteString("<" + tok.Name.Local)
			for _, a := range tok.Attr {
				b.WriteString(" " + a.Name.Space + ":" + a.Name.Local + "=" + a.Value)
			}
		}
	}
}

// FuzzRead reads anything as a package.
func FuzzRead(f *testing.F) {
	f.Add(packModel(f, plain))
	f.Add(pack(f, defaultModel, plain))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := read(data)
		if err != nil {
			filetest.OneLine(t, err)
			return
		}
		if len(p.Soup.Corners) == 0 {
			t.Error("no facets and no error")
		}
	})
}
