package scan

import (
	"errors"
	"io"
)

// MaxWord is the length in bytes up to which a word is read. No number or
// keyword of a mesh file comes near it.
const MaxWord = 4096

// window is the size in bytes of the buffer of a large file.
const window = 256 << 10

// ErrLongWord reports a word longer than MaxWord.
var ErrLongWord = errors.New("a word of more than 4096 bytes")

// Scanner reads a file through a window that only moves forward.
type Scanner struct {
	r        io.Reader
	buf      []byte
	pos, end int   // the unread part of buf
	base     int64 // offset of buf[0] in the file
	line     int   // lines ended so far
	afterCR  bool  // the last byte passed was a CR, already counted
	eof      bool
	err      error // of reading, never io.EOF
}

// New returns a scanner on r. The size in bytes is a hint for the window, -1 when unknown.
func New(r io.Reader, size int64) *Scanner {
	n := int64(window)
	if size >= 0 && size < n {
		n = max(size+1, 2*MaxWord) // one more, so that the end is seen by the same read
	}
	return &Scanner{r: r, buf: make([]byte, n)}
}

// Err returns the error of the reader below, or nil at a plain end of file.
func (s *Scanner) Err() error { return s.err }

// Line returns the number, from 1 on, of the line of the word read last.
func (s *Scanner) Line() int { return s.line + 1 }

// Offset returns how many bytes have been passed.
func (s *Scanner) Offset() int64 { return s.base + int64(s.pos) }

// Fill moves the unread part to the front and reads more behind it. It
// returns false when nothing was added: at the end of the file, after an
// error, or with a full window.
func (s *Scanner) Fill() bool {
	if s.eof || s.pos == 0 && s.end == len(s.buf) {
		return false
	}
	if s.pos > 0 {
		copy(s.buf, s.buf[s.pos:s.end])
		s.base += int64(s.pos)
		s.end -= s.pos
		s.pos = 0
	}
	for range 100 {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		if err != nil {
			s.eof = true
			if !errors.Is(err, io.EOF) {
				s.err = err
			}
		}
		if n > 0 || s.eof {
			return n > 0
		}
	}
	s.eof, s.err = true, io.ErrNoProgress
	return false
}

// Peek returns the next n bytes without passing them, fewer at the end of the
// file; n is at most 2*MaxWord.
func (s *Scanner) Peek(n int) []byte {
	for s.end-s.pos < n && s.Fill() {
	}
	return s.buf[s.pos:min(s.end, s.pos+n)]
}

// Begin skips the mark of the byte order that text may begin with, and tells whether
// there is anything to read or Err to look at.
func (s *Scanner) Begin() bool {
	head := s.Peek(3)
	if string(head) == "\xEF\xBB\xBF" {
		s.Skip(3)
	}
	return len(head) > 0 || s.err != nil
}

// Window returns all bytes that are buffered.
func (s *Scanner) Window() []byte { return s.buf[s.pos:s.end] }

// Skip passes n buffered bytes without counting lines.
func (s *Scanner) Skip(n int) { s.pos += n }

// SkipLines passes n buffered bytes in which so many lines end, the last of which ends none.
func (s *Scanner) SkipLines(n, lines int) {
	if n > 0 {
		s.pos, s.line, s.afterCR = s.pos+n, s.line+lines, false
	}
}

// Word returns the next word, or nil at the end of the file. It stays valid
// until the next call.
func (s *Scanner) Word() ([]byte, error) {
	if !s.skip(true) {
		return nil, s.err
	}
	return s.word()
}

// WordInLine returns the next word of this line, or nil at its end.
func (s *Scanner) WordInLine() ([]byte, error) {
	if !s.skip(false) {
		return nil, s.err
	}
	return s.word()
}

// NextLine passes the rest of this line and its end. It returns false at the
// end of the file.
func (s *Scanner) NextLine() bool {
	s.toLineEnd(nil)
	if s.pos == s.end && !s.Fill() {
		return false
	}
	s.endLine()
	if s.afterCR && (s.pos < s.end || s.Fill()) && s.buf[s.pos] == '\n' {
		s.pos++
		s.afterCR = false
	}
	return true
}

// RestOfLine appends the rest of this line to dst, without its end, and
// returns it. Comments are not removed.
func (s *Scanner) RestOfLine(dst []byte) []byte { return s.toLineEnd(&dst) }

// word returns the word that begins at pos.
func (s *Scanner) word() ([]byte, error) {
	i := s.pos
	for {
		for i < s.end && s.buf[i] > ' ' {
			i++
		}
		if i < s.end {
			break
		}
		if i-s.pos > MaxWord {
			return nil, ErrLongWord
		}
		n := i - s.pos
		more := s.Fill() // moves pos, even at the end
		i = s.pos + n
		if !more {
			break
		}
	}
	if i-s.pos > MaxWord {
		return nil, ErrLongWord
	}
	w := s.buf[s.pos:i]
	s.pos = i
	s.afterCR = false
	return w, s.err
}

// skip passes space and comments up to a word; without across it stops
// before the end of the line. It returns false when no word was found.
func (s *Scanner) skip(across bool) bool {
	for {
		for s.pos < s.end {
			c := s.buf[s.pos]
			switch {
			case c > ' ' && c != '#':
				return true
			case c == '#':
				s.toLineEnd(nil)
			case c == '\n' || c == '\r':
				if !across && !(c == '\n' && s.afterCR) {
					return false
				}
				s.endLine()
			default:
				s.pos++
				s.afterCR = false
			}
		}
		if !s.Fill() {
			return false
		}
	}
}

// endLine passes one CR or LF; the LF of a CR LF pair counts no line.
func (s *Scanner) endLine() {
	c := s.buf[s.pos]
	if c == '\r' || !s.afterCR {
		s.line++
	}
	s.afterCR = c == '\r'
	s.pos++
}

// toLineEnd passes everything before the next CR or LF, appended to *keep when that is not nil.
func (s *Scanner) toLineEnd(keep *[]byte) []byte {
	var dst []byte
	if keep != nil {
		dst = *keep
	}
	for {
		i := s.pos
		for i < s.end && s.buf[i] != '\n' && s.buf[i] != '\r' {
			i++
		}
		if keep != nil {
			dst = append(dst, s.buf[s.pos:i]...)
		}
		if i > s.pos {
			s.afterCR = false
		}
		s.pos = i
		if i < s.end || !s.Fill() {
			return dst
		}
	}
}
