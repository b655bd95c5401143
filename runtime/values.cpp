#include "runtime/values.hpp"
