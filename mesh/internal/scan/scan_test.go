package scan

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

// words returns every word with its line.
func words(s *Scanner) []string {
	var got []string
	for {
		w, err := s.Word()
		if err != nil {
			return append(got, err.Error())
		}
		if w == nil {
			return got
		}
		got = append(got, fmt.Sprintf("%d:%s", s.Line(), w))
	}
}

func TestWordsAndLines(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"empty", "", ""},
		{"space only", " \t\r\n\v\f", ""},
		{"LF", "a b\nc\n\nd", "1:a 1:b 2:c 4:d"},
		{"CR LF", "a b\r\nc\r\n\r\nd", "1:a 1:b 2:c 4:d"},
		{"CR", "a b\rc\r\rd", "1:a 1:b 2:c 4:d"},
		{"mixed", "a\n\rb", "1:a 3:b"},
		{"comments", "#x\na # y\n  # z\r\nb#c\n#", "2:a 4:b#c"},
		{"bytes", "\xff\xfe a\x00b", "1:\xff\xfe 1:a 1:b"},
	}
	for _, tt := range tests {
		for how, r := range map[string]io.Reader{
			"whole":   strings.NewReader(tt.text),
			"by byte": iotest.OneByteReader(strings.NewReader(tt.text)),
			"EOF":     iotest.DataErrReader(strings.NewReader(tt.text)),
		} {
			if got := strings.Join(words(New(r, -1)), " "); got != tt.want {
				t.Errorf("%s, %s: words %q, want %q", tt.name, how, got, tt.want)
			}
		}
	}
}

// A small window moves many times under a long text.
func TestWindowMoves(t *testing.T) {
	var text strings.Builder
	var want []string
	for i := range 20000 {
		fmt.Fprintf(&text, "word%d # comment\r\n", i)
		want = append(want, fmt.Sprintf("%d:word%d", i+1, i))
	}
	got := words(New(strings.NewReader(text.String()), 0)) // a wrong size only makes the window small
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("got %d words ending in %q, want %d", len(got), got[len(got)-1], len(want))
	}
}

func TestLongWord(t *testing.T) {
	for _, size := range []int64{-1, 0} {
		ok := strings.Repeat("x", MaxWord)
		w, err := New(strings.NewReader(ok+" y"), size).Word()
		if err != nil || string(w) != ok {
			t.Errorf("word of %d bytes: %v", MaxWord, err)
		}
		if _, err = New(strings.NewReader(ok+"x"), size).Word(); !errors.Is(err, ErrLongWord) {
			t.Errorf("word of %d bytes: error %v, want ErrLongWord", MaxWord+1, err)
		}
		long := strings.Repeat("x", 10*MaxWord)
		if got := New(strings.NewReader(long+"\r\n"), size).RestOfLine(nil); string(got) != long {
			t.Errorf("rest of line: %d bytes, want %d", len(got), len(long))
		}
	}
}

func TestLineWise(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r"} {
		text := strings.Join([]string{"v 1 2 # three", "", "# c", "f 4", "5"}, end)
		for how, r := range map[string]io.Reader{"whole": strings.NewReader(text), "by byte": iotest.OneByteReader(strings.NewReader(text))} {
			s := New(r, -1)
			var got []string
			for {
				for {
					w, err := s.WordInLine()
					if err != nil {
						t.Fatal(err)
					}
					if w == nil {
						break
					}
					got = append(got, string(w))
				}
				got = append(got, fmt.Sprintf("/%d", s.Line()))
				if !s.NextLine() {
					break
				}
			}
			if g, want := strings.Join(got, " "), "v 1 2 /1 /2 /3 f 4 /4 5 /5"; g != want {
				t.Errorf("%q %s: %q, want %q", end, how, g, want)
			}
		}
	}
}

func TestReadError(t *testing.T) {
	broken := errors.New("disk on fire")
	s := New(io.MultiReader(strings.NewReader("a b"), iotest.ErrReader(broken)), -1)
	var err error
	for w := []byte{0}; w != nil && err == nil; {
		w, err = s.Word()
	}
	if !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
	s = New(stuck{}, -1)
	if _, err = s.Word(); !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("error %v, want ErrNoProgress", err)
	}
}

// stuck is a reader that never gets anywhere.
type stuck struct{}

func (stuck) Read([]byte) (int, error) { return 0, nil }
