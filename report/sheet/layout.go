package sheet

import (
	"image"
	"math"
)

// arrangement places pictures in rows and columns. cell[row][column] is a
// number of view and layer, or -1.
type arrangement struct {
	cells [][]cell
}

type cell struct{ view, layer int }

// arrangements lists the ways to place v views of l layers.
func arrangements(v, l int) []arrangement {
	grid := func(rows, cols int, at func(r, c int) cell) arrangement {
		a := arrangement{make([][]cell, rows)}
		for r := range a.cells {
			for c := range cols {
				a.cells[r] = append(a.cells[r], at(r, c))
			}
		}
		return a
	}
	list := []arrangement{
		// A column a view, a row a layer.
		grid(l, v, func(r, c int) cell { return cell{c, r} }),
		// A row a view, a column a layer: for long parts.
		grid(v, l, func(r, c int) cell { return cell{r, c} }),
		// Everything side by side: for towers.
		grid(1, v*l, func(_, c int) cell { return cell{c / l, c % l} }),
	}
	if v%2 == 0 {
		// Two views a row, the layers of a view side by side.
		list = append(list, grid(v/2, 2*l, func(r, c int) cell { return cell{2*r + c/l, c % l} }))
	}
	return list
}

// placed is an arrangement with its cells' rectangles and the common scale.
type placed struct {
	cells   [][]cell
	rects   [][]image.Rectangle
	pxPerMM float64
	needs   int // pixels of height that the rows need at this scale
}

// Room that a cell keeps free of the part: caption above, scale bar and build
// arrow below, and the least size of a cell that holds them.
const (
	cellTop    = 48
	cellBottom = 40
	cellSide   = 14
	minCellW   = 170
	minCellH   = 150
	cellGap    = 6
)

// arrange chooses the arrangement in which the part is largest. sizes are the
// widths and heights in mm of each view.
func arrange(area image.Rectangle, sizes []point, layers int) placed {
	var best placed
	for i, a := range arrangements(len(sizes), layers) {
		p := place(area, a, sizes)
		// An earlier arrangement keeps its place unless the part grows by a twentieth.
		if i == 0 || p.pxPerMM > best.pxPerMM*1.05 {
			best = p
		}
	}
	return best
}

// place computes columns and rows that fit their largest picture, and the
// scale at which all fit the area.
func place(area image.Rectangle, a arrangement, sizes []point) placed {
	rows, cols := len(a.cells), len(a.cells[0])
	w, h := make([]float64, cols), make([]float64, rows)
	for r, line := range a.cells {
		for c, q := range line {
			w[c] = math.Max(w[c], sizes[q.view].x)
			h[r] = math.Max(h[r], sizes[q.view].y)
		}
	}
	s := math.Min(
		fitScale(w, float64(area.Dx()-cellGap*(cols-1)), 2*cellSide, minCellW),
		fitScale(h, float64(area.Dy()-cellGap*(rows-1)), cellTop+cellBottom, minCellH),
	)
	p := placed{cells: a.cells, pxPerMM: s, needs: cellGap * (rows - 1)}
	for _, v := range h {
		p.needs += int(math.Ceil(math.Max(v*s+cellTop+cellBottom, minCellH)))
	}
	xs := spread(w, s, area.Min.X, area.Max.X, 2*cellSide, minCellW)
	ys := spread(h, s, area.Min.Y, area.Max.Y, cellTop+cellBottom, minCellH)
	for r := range rows {
		var line []image.Rectangle
		for c := range cols {
			line = append(line, image.Rect(xs[c][0], ys[r][0], xs[c][1], ys[r][1]))
		}
		p.rects = append(p.rects, line)
	}
	return p
}

// fitScale returns the largest scale at which cells of the given sizes in mm
// fit a length in pixels, each with its padding and least size.
func fitScale(mm []float64, px, pad, least float64) float64 {
	lo, hi := 0.0, 1e9
	for range 200 { // bisection: the need grows with the scale
		s := (lo + hi) / 2
		need := 0.0
		for _, v := range mm {
			need += math.Max(v*s+pad, least)
		}
		if need <= px {
			lo = s
		} else {
			hi = s
		}
	}
	return lo
}

// spread cuts a range of pixels into cells in proportion to their needs.
func spread(mm []float64, s float64, from, to int, pad, least float64) [][2]int {
	need, total := make([]float64, len(mm)), 0.0
	for i, v := range mm {
		need[i] = math.Max(v*s+pad, least)
		total += need[i]
	}
	free := float64(to-from-cellGap*(len(mm)-1)) - total
	out := make([][2]int, len(mm))
	at := float64(from)
	for i := range mm {
		n := need[i] + free/float64(len(mm))
		out[i] = [2]int{int(math.Round(at)), int(math.Round(at + n))}
		at += n + cellGap
	}
	return out
}
