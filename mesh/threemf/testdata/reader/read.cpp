// Reads the 3MF files named with the strict mode of the format's reference
// library (Debian's lib3mf-dev) and prints a line for each: warnings, objects,
// triangles, objects whose surface is not closed and oriented.
//   c++ -I/usr/include/lib3mf read.cpp -l3MF -o read
#include <cstdio>
#include "Model/COM/NMR_DLLInterfaces.h"

using namespace NMR;

int main(int argc, char **argv) {
	for (int i = 1; i < argc; i++) {
		PLib3MFModel *model;
		PLib3MFModelReader *reader;
		if (lib3mf_createmodel(&model) != 0 || lib3mf_model_queryreader(model, "3mf", &reader) != 0) {
			fprintf(stderr, "the library cannot be used\n");
			return 1;
		}
		lib3mf_reader_setstrictmodeactive(reader, true);
		if (HRESULT err = lib3mf_reader_readfromfileutf8(reader, argv[i])) {
			fprintf(stderr, "%s: refused, error %x\n", argv[i], (unsigned)err);
			return 1;
		}
		DWORD warnings, unit;
		lib3mf_reader_getwarningcount(reader, &warnings);
		lib3mf_model_getunit(model, &unit);
		unsigned long objects = 0, triangles = 0, open = 0;
		PLib3MFModelResourceIterator *each;
		BOOL more;
		for (lib3mf_model_getmeshobjects(model, &each); lib3mf_resourceiterator_movenext(each, &more) == 0 && more;) {
			PLib3MFModelResource *object;
			DWORD n;
			BOOL closed;
			lib3mf_resourceiterator_getcurrent(each, &object);
			lib3mf_meshobject_gettrianglecount(object, &n);
			lib3mf_meshobject_ismanifoldandoriented(object, &closed);
			objects++;
			triangles += n;
			open += !closed;
		}
		PLib3MFModelBuildItemIterator *items;
		unsigned long placed = 0;
		for (lib3mf_model_getbuilditems(model, &items); lib3mf_builditemiterator_movenext(items, &more) == 0 && more;) placed++;
		printf("%u %u %lu %lu %lu %lu\n", (unsigned)warnings, (unsigned)unit, objects, placed, triangles, open);
	}
}
