// cgal move IN OUT: reads an STL file, welds it, computes vertex normals, moves
// the surface along them by 0.15 mm and writes it.
// cgal cross IN: reads, welds, and tells whether facets cross.
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/IO/STL.h>
#include <CGAL/Polygon_mesh_processing/compute_normal.h>
#include <CGAL/Polygon_mesh_processing/orient_polygon_soup.h>
#include <CGAL/Polygon_mesh_processing/polygon_soup_to_polygon_mesh.h>
#include <CGAL/Polygon_mesh_processing/self_intersections.h>
#include <CGAL/Surface_mesh.h>

#include <array>
#include <iostream>
#include <string>
#include <vector>

using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Mesh = CGAL::Surface_mesh<Kernel::Point_3>;
namespace PMP = CGAL::Polygon_mesh_processing;

int main(int n, char** arg) {
  if (n < 3) return 2;
  std::vector<Kernel::Point_3> points;
  std::vector<std::array<std::size_t, 3>> facets;
  if (!CGAL::IO::read_STL(arg[2], points, facets)) return 1;  // welds while reading
  Mesh m;
  PMP::polygon_soup_to_polygon_mesh(points, facets, m);
  if (std::string(arg[1]) == "cross") {
    std::cout << (PMP::does_self_intersect(m) ? "crosses itself" : "clean") << "\n";
    return 0;
  }
  if (n < 4) return 2;
  auto normal = m.add_property_map<Mesh::Vertex_index, Kernel::Vector_3>("n").first;
  PMP::compute_vertex_normals(m, normal);
  for (auto v : m.vertices()) m.point(v) = m.point(v) + 0.15 * normal[v];
  return CGAL::IO::write_STL(arg[3], m, CGAL::parameters::use_binary_mode(true)) ? 0 : 1;
}
