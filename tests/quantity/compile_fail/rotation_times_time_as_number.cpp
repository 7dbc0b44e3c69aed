// An angle is not a plain number.
#include "case.hpp"
void use() {
#ifdef BAD
  take<double>(turning * duration);
#else
  take<Angle>(turning * duration);
#endif
}
