// A bare number is no pressure.
#include "case.hpp"
void use() {
#ifdef BAD
  take<Pressure>(3.0);
#else
  take<Pressure>(Pressure::from_value(3.0));
#endif
}
