package html

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"

	"github.com/golang/geo/r3"

	"skinstock/mesh"
	"skinstock/region"
	"skinstock/report/render"
	"skinstock/report/sheet"
)

// turnFacets is how many facets the turntable's mesh has at most: enough for
// its size on the page, few enough to be drawn at every move by a script.
const turnFacets = 24000

// mostVertices is how many vertices 16-bit numbers tell apart.
const mostVertices = 1<<16 - 1

// Turntable is a coarse copy of the part for the interactive view.
type Turntable struct {
	// Meta is JSON that tells the script the sizes and scales.
	Meta string
	// Data is the meshes in base64 of the alphabet for addresses, which HTML
	// leaves as it is: see pack.
	Data string
	// Alt says what is shown.
	Alt string
}

// turnMeta is what the script must know beside the packed meshes.
type turnMeta struct {
	Meshes  []turnMesh `json:"meshes"`
	TopUM   float64    `json:"top_um"`  // allowance of value 255
	Scale   []string   `json:"scale"`   // colours of the allowance, first to last
	Skins   []turnSkin `json:"skins"`   // by number
	Shared  bool       `json:"shared"`  // one mesh, grown by its displacements
	MaxGrow float64    `json:"grow_mm"` // displacement of value 32767
}

type turnMesh struct {
	Vertices int        `json:"v"`
	Facets   int        `json:"f"`
	Origin   [3]float64 `json:"origin"` // mm, of value 0
	Step     float64    `json:"step"`   // mm a count
}

type turnSkin struct {
	Name   string `json:"name"`
	Letter string `json:"letter"`
	Colour string `json:"colour"`
	Ink    string `json:"ink"`
}

// coarse is a mesh made of merged vertices.
type coarse struct {
	at, moved []r3.Vector
	facets    [][3]int32
	skin      []byte
	value     [][3]byte
}

// newTurntable makes the turntable of a stage.
func newTurntable(s *sheet.Stage, most int) *Turntable {
	in := s.Input()
	shared := in.NominalOf == nil && len(in.Nominal.Vertices) == len(in.Grown.Vertices)
	top := s.Scale(sheet.Allowance).Hi
	meta := turnMeta{TopUM: top, Shared: shared}
	for i := range 64 {
		meta.Scale = append(meta.Scale, hex(s.Scale(sheet.Allowance).At(top*float64(i)/63)))
	}
	for _, k := range region.Skins {
		st := sheet.Styles[k]
		meta.Skins = append(meta.Skins, turnSkin{k.String(), k.Letter(), hex(render.Hex(st.Colour)), hex(render.Hex(st.Ink))})
	}
	var meshes []*coarse
	if shared {
		meshes = []*coarse{coarsen(in.Nominal, in.Grown.Vertices, in.Skins, in.AllowanceOf, top, most)}
	} else {
		meshes = []*coarse{
			coarsen(in.Nominal, nil, in.Skins, nil, top, most),
			coarsen(in.Grown, nil, nil, in.AllowanceOf, top, most),
		}
	}
	for _, c := range meshes {
		for i := range c.moved {
			meta.MaxGrow = max(meta.MaxGrow, c.moved[i].Distance(c.at[i]))
		}
	}
	right, back, up := sheet.Axes(in.BuildDir)
	var data []byte
	for _, c := range meshes {
		m, b := c.pack([3]r3.Vector{right, back, up}, meta.MaxGrow)
		meta.Meshes = append(meta.Meshes, m)
		data = append(data, b...)
	}
	js, err := json.Marshal(meta)
	if err != nil {
		panic("html: turntable: " + err.Error()) // plain numbers and names
	}
	return &Turntable{
		Meta: string(js), Data: base64.URLEncoding.EncodeToString(data),
		Alt: fmt.Sprintf("The part as a model to turn, simplified to %d facets", len(meshes[0].facets)),
	}
}

func hex(c render.RGB) string {
	q := c.SRGB()
	return fmt.Sprintf("%02x%02x%02x", q.R, q.G, q.B)
}

// coarsen merges the vertices in each cell of a grid into their mean, with the
// finest grid that leaves at most the given number of facets, and few enough
// vertices for 16-bit numbers. moved, skins and allowance may be nil.
func coarsen(m *mesh.Mesh, moved []r3.Vector, skins []region.Skin, allowance func(f int) [3]float64, topUM float64, most int) *coarse {
	lo, hi := m.Bounds()
	d := hi.Sub(lo)
	long := max(d.X, d.Y, d.Z, 1e-9)
	// The number of cells along the longest side, by bisection; a mesh that is
	// small enough keeps its vertices.
	if len(m.Facets) <= most && len(m.Vertices) <= mostVertices {
		return build(m, identity(len(m.Vertices)), len(m.Vertices), moved, skins, allowance, topUM)
	}
	a, b := 4, 2048
	for b-a > 1 {
		n := (a + b) / 2
		if group, _, ok := cells(m, lo, long/float64(n), mostVertices); ok && alive(m, group, most) <= most {
			a = n
		} else {
			b = n
		}
	}
	group, count, _ := cells(m, lo, long/float64(a), len(m.Vertices))
	return build(m, group, count, moved, skins, allowance, topUM)
}

func identity(n int) []int32 {
	g := make([]int32, n)
	for i := range g {
		g[i] = int32(i)
	}
	return g
}

// cells numbers the occupied cells of a grid in order of their first vertex,
// and gives up when there are more than so many.
func cells(m *mesh.Mesh, lo r3.Vector, side float64, most int) (group []int32, count int, ok bool) {
	number := map[uint64]int32{} // looked up, never ranged over
	group = make([]int32, len(m.Vertices))
	last, n := ^uint64(0), int32(0)
	for i, v := range m.Vertices {
		q := v.Sub(lo).Mul(1 / side)
		k := uint64(q.X)<<32 | uint64(q.Y)<<16 | uint64(q.Z)
		if k != last { // neighbours often follow each other
			last = k
			if n, ok = number[k]; !ok {
				if n = int32(len(number)); int(n) == most {
					return nil, 0, false
				}
				number[k] = n
			}
		}
		group[i] = n
	}
	return group, len(number), true
}

// alive counts the facets whose corners stay apart, until they are more than so many.
func alive(m *mesh.Mesh, g []int32, most int) int {
	n := 0
	for _, t := range m.Facets {
		if a, b, c := g[t[0]], g[t[1]], g[t[2]]; a != b && b != c && c != a {
			if n++; n > most {
				break
			}
		}
	}
	return n
}

func build(m *mesh.Mesh, g []int32, count int, moved []r3.Vector, skins []region.Skin, allowance func(f int) [3]float64, topUM float64) *coarse {
	c := &coarse{at: make([]r3.Vector, count)}
	n := make([]float64, count)
	for i, v := range m.Vertices {
		c.at[g[i]] = c.at[g[i]].Add(v)
		n[g[i]]++
	}
	if moved != nil {
		c.moved = make([]r3.Vector, count)
		for i, v := range moved {
			c.moved[g[i]] = c.moved[g[i]].Add(v)
		}
	}
	for i := range c.at {
		c.at[i] = c.at[i].Mul(1 / n[i])
		if moved != nil {
			c.moved[i] = c.moved[i].Mul(1 / n[i])
		}
	}
	for f, t := range m.Facets {
		q := [3]int32{g[t[0]], g[t[1]], g[t[2]]}
		if q[0] == q[1] || q[1] == q[2] || q[2] == q[0] {
			continue
		}
		c.facets = append(c.facets, q)
		k := byte(0)
		if skins != nil {
			k = byte(skins[f])
		}
		c.skin = append(c.skin, k)
		var v [3]byte
		if allowance != nil {
			for j, mm := range allowance(f) {
				v[j] = byte(math.Round(255 * min(max(1000*mm/topUM, 0), 1)))
			}
		}
		c.value = append(c.value, v)
	}
	return c
}

// pack writes a mesh, little endian: positions (3 uint16 a vertex), moves
// (3 int16), facets (3 uint16), skins (a byte a facet), allowances (3 bytes a
// facet). Axes are right, back and up.
func (c *coarse) pack(axes [3]r3.Vector, maxGrow float64) (turnMesh, []byte) {
	turn := func(v r3.Vector) [3]float64 { return [3]float64{v.Dot(axes[0]), v.Dot(axes[1]), v.Dot(axes[2])} }
	lo, hi := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for _, v := range c.at {
		for k, x := range turn(v) {
			lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
		}
	}
	step := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2], 1e-9) / 65535
	m := turnMesh{Vertices: len(c.at), Facets: len(c.facets), Origin: lo, Step: step}
	var b []byte
	for _, v := range c.at {
		for k, x := range turn(v) {
			b = binary.LittleEndian.AppendUint16(b, uint16(math.Round((x-lo[k])/step)))
		}
	}
	for i, v := range c.at {
		d := [3]float64{}
		if c.moved != nil && maxGrow > 0 {
			d = turn(c.moved[i].Sub(v))
		}
		for _, x := range d {
			b = binary.LittleEndian.AppendUint16(b, uint16(int16(math.Round(32767*x/max(maxGrow, 1e-12)))))
		}
	}
	for _, t := range c.facets {
		for _, i := range t {
			b = binary.LittleEndian.AppendUint16(b, uint16(i))
		}
	}
	b = append(b, c.skin...)
	for _, v := range c.value {
		b = append(b, v[:]...)
	}
	return m, b
}
