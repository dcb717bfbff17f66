# Reads an STL file, welds it, computes vertex normals, moves the surface along
# them by 0.15 mm and writes it.
import sys

from vtkmodules.vtkFiltersCore import vtkPolyDataNormals
from vtkmodules.vtkFiltersGeneral import vtkWarpVector
from vtkmodules.vtkIOGeometry import vtkSTLReader, vtkSTLWriter
from vtkmodules.vtkCommonDataModel import vtkDataObject, vtkDataSetAttributes

reader = vtkSTLReader()  # welds while reading
reader.SetFileName(sys.argv[1])
normals = vtkPolyDataNormals()
normals.SetInputConnection(reader.GetOutputPort())
normals.SplittingOff()
normals.ConsistencyOff()
warp = vtkWarpVector()
warp.SetInputConnection(normals.GetOutputPort())
warp.SetInputArrayToProcess(0, 0, 0, vtkDataObject.FIELD_ASSOCIATION_POINTS, vtkDataSetAttributes.NORMALS)
warp.SetScaleFactor(0.15)
writer = vtkSTLWriter()
writer.SetFileTypeToBinary()
writer.SetFileName(sys.argv[2])
writer.SetInputConnection(warp.GetOutputPort())
if writer.Write() != 1:
    sys.exit("nothing was written")
