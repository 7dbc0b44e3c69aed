// A flux times an area is a flow, times a length it is not.
#include "case.hpp"
void use() {
#ifdef BAD
  take<MolarFlow>(flux * length);
#else
  take<MolarFlow>(flux * (length * length));
#endif
}
