// A flow per area is no flow.
#include "case.hpp"
void use() {
#ifdef BAD
  take<MolarFlow>(flux);
#else
  take<MolarFlux>(flux);
#endif
}
