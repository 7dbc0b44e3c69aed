// A gas flow is no power.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Power>(flow);
#else
  take<MolarFlow>(flow);
#endif
}
