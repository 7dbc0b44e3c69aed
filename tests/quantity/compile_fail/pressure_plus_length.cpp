// Quantities of different kinds have no sum.
#include "case.hpp"
void use() {
#ifdef BAD
  take(pressure + length);
#else
  take(pressure + pressure);
#endif
}
