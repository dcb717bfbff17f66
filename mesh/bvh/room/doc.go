// Package room measures the free distance in front of places of a surface and
// the thickness of the metal behind them.
//
// Two measures are kept. The ball is the largest ball that touches the place
// and lies wholly on its side of the surface: its diameter is the room. In a slot of width w it
// is w, in a bore its diameter, in a V-groove of opening angle u it is 2 s tan(u/2) at
// distance s from the valley, and in a cone 2 s tan(u/2) likewise. The ray is the
// distance to what lies straight ahead: never less than the ball, and in
// tapered gaps more, 2 s sin(u/2) cos(u/2) / cos(u) in the V-groove. Near a
// rim the ball also sees what lies beside the ray. Which of both is meant is for the caller to say.
//
// The ball is found by shrinking (Ma, Bae and Choi, "3D medial axis point
// approximation using nearest neighbors and the normal field", The Visual
// Computer 28, 2012): from the nearest point q to the centre of a ball that is too large follows the
// ball through q. Facets that look the same way as the place, within an angle,
// are not seen: the unevenness of a rough or voxel-born mesh would else leave no
// room at all. A dish or groove shallower than that angle has therefore only its ray.
// In a bore of facets of width e the ball falls short by up to e cot(angle/2) / 3.
package room
