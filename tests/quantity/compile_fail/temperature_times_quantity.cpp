// A product with an absolute temperature takes its thermodynamic value, said aloud.
#include "case.hpp"
void use() {
#ifdef BAD
  take(energy / warm);
#else
  take(energy / thermodynamic(warm));
#endif
}
