// A value and its uncertainty are of one kind.
#include "case.hpp"
#include "quantity/text.hpp"
void use() {
#ifdef BAD
  take(with_uncertainty(length, pressure, usual_unit(Kind::length)));
#else
  take(with_uncertainty(length, length, usual_unit(Kind::length)));
#endif
}
