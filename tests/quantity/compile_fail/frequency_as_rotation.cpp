// A frequency is not turning.
#include "case.hpp"
void use() {
#ifdef BAD
  take<AngularSpeed>(frequency);
#else
  take<Frequency>(frequency);
#endif
}
