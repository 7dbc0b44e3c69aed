// An energy is not a power.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Power>(power * duration);
#else
  take<Energy>(power * duration);
#endif
}
