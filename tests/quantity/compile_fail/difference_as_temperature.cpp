// A difference is no temperature.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Temperature>(difference);
#else
  take<Temperature>(warm);
#endif
}
