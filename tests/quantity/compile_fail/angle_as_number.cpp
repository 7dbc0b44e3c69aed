// An angle is not a number.
#include "case.hpp"
void use() {
#ifdef BAD
  take<double>(angle);
#else
  take<double>(angle.value());
#endif
}
