/* The arithmetic of the duct kernels (smooth flow: no steep cell, no supersonic node) in C, for
   comparison of speed: see benchmark_kernel.py, which compiles and calls it. Rows of the blocks are
   those of flow/arrays/ducts.py. */

#include <math.h>
#include <stdint.h>
#include <string.h>

#define ROW(block, i) ((block) + (long)(i) * n)
#define EACH _Pragma("GCC ivdep") for (long j = 1; j < last; j++)

typedef struct { double R[3]; double c[3][6]; } Gas;

static inline double gas_constant(const Gas *g, double yf, double yb) {
    return g->R[0] + yf * (g->R[1] - g->R[0]) + yb * (g->R[2] - g->R[0]);
}
static inline double coefficient(const Gas *g, int k, double ya, double yf, double yb) {
    return ya * g->c[0][k] + yf * g->c[1][k] + yb * g->c[2][k];
}
#define COEFFICIENTS(yf, yb)                                                                   \
    double ya_ = 1.0 - (yf) - (yb), c0 = coefficient(g, 0, ya_, yf, yb),                        \
           c1 = coefficient(g, 1, ya_, yf, yb), c2 = coefficient(g, 2, ya_, yf, yb),            \
           c3 = coefficient(g, 3, ya_, yf, yb), c4 = coefficient(g, 4, ya_, yf, yb),            \
           c5 = coefficient(g, 5, ya_, yf, yb)
#define CV(T) (t_ = 1e-3 * (T), c0 + t_ * (c1 + t_ * (c2 + t_ * (c3 + t_ * (c4 + t_ * c5)))))
#define ENERGY(T)                                                                              \
    (t_ = 1e-3 * (T), (T) * (c0 + t_ * (c1 * 0.5 + t_ * (c2 * (1.0 / 3.0) + t_ * (c3 * 0.25 +   \
     t_ * (c4 * 0.2 + t_ * (c5 * (1.0 / 6.0)))))))) 

static inline double second(double l, double m, double r) { return fabs(l - 2.0 * m + r); }
static inline double bending(double l, double m, double r, double wl, double wr) {
    return fabs(wl * (l - m) + wr * (r - m));
}
static inline double least(double a, double b) { return a < b ? a : b; }
static inline double most(double a, double b) { return a > b ? a : b; }

static inline double log_2(double x) {
    int64_t bits; double m;
    memcpy(&bits, &x, 8);
    bits -= 4604544271217802189LL;
    int64_t e = bits >> 52, f = (bits & 4503599627370495LL) + 4604544271217802189LL;
    memcpy(&m, &f, 8);
    double z = (m - 1.0) / (m + 1.0), z2 = z * z;
    return (double)e + 2.885390081777927 * z * (1.0 + z2 * (1.0 / 3.0 + z2 * (0.2 + z2 / 7.0)));
}
static inline double fanning(double inverse, double rough) {
    inverse = least(inverse, 0.1);
    double root = 0.541854 * log_2(rough + least(6.9 * inverse, 0.069));
    double turbulent = 0.25 / (root * root), laminar = 16.0 * inverse;
    return laminar + least(most(2.0 - 4000.0 * inverse, 0.0), 1.0) * (turbulent - laminar);
}
static inline double heating_rate(double rho, double u, double a2, double gm, double drag,
                                  double film, double wall_a2) {
    return fabs(u) * rho * (film * (wall_a2 - a2) + (gm - 1.0) * drag * u * u);
}
static inline double held(double half, double old) {
    return half + least(most(half - old, -0.3 * half), 0.3 * half);
}

enum { DX, AREA, AREA_MID, VOLUME, SLOPE_L, SLOPE_M, SLOPE_R, TAPER_L, TAPER_R, DIAMETER, ROUGH,
       WALL, BEND, FRICTION, HEAT, INSIDE, COARSE, PER_REACH, PER_DX, PER_VOLUME, PER_MID, PER_DIAMETER,
       EVEN_L, EVEN_R };
enum { RHO, U, P, A, GAMMA, YF, YB, E };
enum { M_RHO, M_U, M_P, M_A, M_GAMMA, M_YF, M_YB, M_T, DENSITY, INNER, SHARE, M_BEND, STEEP };
enum { DRAG = 21, FILM, BRAKING, HEATING };

#define AT(v, s, cell)                                                                         \
    (pr[3 * (v)][cell] + (s) * (pr[3 * (v) + 1][cell] + (s) * pr[3 * (v) + 2][cell]))
#define WAVE(out, cell, s_, sign, taper_end, tau, rho_e, a_e)                                  \
    double out##k, out##z, out##u, out##a;                                                      \
    { const double s = (s_), r_ = AT(0, s, cell), u_ = AT(1, s, cell), p_ = AT(2, s, cell),     \
                   a_ = AT(3, s, cell), taper = tl[cell] + s * (tr[cell] - tl[cell]),           \
                   zf = r_ * a_, ze = (rho_e) * (a_e), z_ = 0.5 * (zf + ze), h_ = 0.5 * (tau);  \
      out##k = p_ + (sign) * u_ * (z_ - (sign) * h_ * zf * a_ * taper)                          \
               + (tau) * (heating[cell] - (sign) * z_ * braking[cell]);                         \
      out##z = z_ + (sign) * h_ * ze * (a_e) * (taper_end);                                     \
      out##u = u_; out##a = a_; }
#define SKETCH(out, cell, s_, sign, taper_end, next_rho)                                       \
    double out##k, out##z, out##u, out##a;                                                      \
    { const double s = (s_), u_ = AT(1, s, cell), p_ = AT(2, s, cell), a_ = AT(3, s, cell),     \
                   z_ = 0.25 * (rho + (next_rho)) * (a_ + a);                                   \
      out##k = p_ + tau * heating[cell]                                                         \
               + z_ * ((sign) * (u_ - tau * braking[cell]) - tau * a * u_ * (taper_end));       \
      out##z = z_; out##u = u_; out##a = a_; }
#define PICK(l, r) (way > 0.0 ? (l) : (r))
#define ARRIVE(target, tau, drift_, plus, minus, a_e)                                          \
    const double way = (drift_), sl = 1.0 - way * (tau) * pdx[j - 1], sr = -way * (tau) * pdx[j]; \
    const double rl = AT(0, sl, j - 1), ul = AT(1, sl, j - 1), pl = AT(2, sl, j - 1),           \
                 gl = AT(4, sl, j - 1), fl = AT(5, sl, j - 1), bl = AT(6, sl, j - 1),           \
                 rr = AT(0, sr, j), ur = AT(1, sr, j), prr = AT(2, sr, j), gr = AT(4, sr, j),   \
                 fr = AT(5, sr, j), br = AT(6, sr, j), hl = heating[j - 1], hr = heating[j];    \
    const double rf = PICK(rl, rr), pf = PICK(pl, prr), gf = PICK(gl, gr), hf = PICK(hl, hr),   \
                 foot_u = PICK(ul, ur), sum = 1.0 / (plus##z + minus##z),                       \
                 un_ = (plus##k - minus##k) * sum,                                              \
                 pn_ = (minus##z * plus##k + plus##z * minus##k) * sum;                         \
    target##_rho[j] = rf + 2.0 * rf * (pn_ - pf - (tau) * hf) / (gf * pf + rf * (a_e) * (a_e)); \
    target##_u[j] = un_; target##_p[j] = pn_; target##_gamma[j] = gf;                           \
    target##_yf[j] = PICK(fl, fr); target##_yb[j] = PICK(bl, br);
#define NAMES(x, from)                                                                         \
    double *restrict x##_rho = from[RHO], *restrict x##_u = from[U], *restrict x##_p = from[P],  \
           *restrict x##_gamma = from[GAMMA], *restrict x##_yf = from[YF], *restrict x##_yb = from[YB]

void steps(const Gas *g, double *mesh, double *nodes, double *cells, double *mid, double *prof,
           double *flux, double *feet, double *duct_heat, long n, long count, double dt) {
    const long last = n - 1;
    double *o[8], *thalf[8], *tnew[8], *pr[21], *m[13], *mb[24];
    for (int i = 0; i < 8; i++) {
        o[i] = ROW(nodes, i); thalf[i] = ROW(nodes, 8 + i); tnew[i] = ROW(nodes, 16 + i);
    }
    for (int i = 0; i < 21; i++) pr[i] = ROW(prof, i);
    for (int i = 0; i < 13; i++) m[i] = ROW(mid, i);
    for (int i = 0; i < 24; i++) mb[i] = ROW(mesh, i);
    double *drag = ROW(prof, DRAG), *film = ROW(prof, FILM), *braking = ROW(prof, BRAKING),
           *heating = ROW(prof, HEATING), *tl = mb[TAPER_L], *tr = mb[TAPER_R], *pdx = mb[PER_DX];
    double *mass = cells, *momentum = ROW(cells, 1), *energy = ROW(cells, 2), *fuel = ROW(cells, 3),
           *burned = ROW(cells, 4);
    double *fm = flux, *fp = ROW(flux, 1), *fe = ROW(flux, 2), *ff = ROW(flux, 3),
           *fb = ROW(flux, 4), *pressure = ROW(flux, 5);
    double *fast = feet, *slow = ROW(feet, 1), *drift = ROW(feet, 2);
    NAMES(half, thalf);
    double *restrict half_a = thalf[A];
    const double tau = 0.5 * dt;
    for (long k = 0; k < count; k++) {
        double t_;
        _Pragma("GCC ivdep") for (long j = 0; j < n; j++) {
            m[DENSITY][j] = mass[j] * mb[PER_VOLUME][j];
            double per_mass = 1.0 / mass[j];
            m[INNER][j] = (energy[j] - 0.5 * momentum[j] * momentum[j] * per_mass) * mb[PER_VOLUME][j];
            m[SHARE][j] = burned[j] * per_mass;
        }
        EACH {
            double rho = m[DENSITY][j], inner = m[INNER][j];
            double d = bending(m[DENSITY][j - 1], rho, m[DENSITY][j + 1], mb[EVEN_L][j], mb[EVEN_R][j]);
            double within = 2.0 * second(o[RHO][j], rho, o[RHO][j + 1]);
            double e = bending(m[INNER][j - 1], inner, m[INNER][j + 1], mb[EVEN_L][j], mb[EVEN_R][j]);
            double mixed = 2.0 * second(o[YB][j], m[SHARE][j], o[YB][j + 1]);
            double y = 0.25 * most(bending(m[SHARE][j - 1], m[SHARE][j], m[SHARE][j + 1],
                                           mb[EVEN_L][j], mb[EVEN_R][j]), mixed);
            double worst = most(0.25 * most(most(d, within) * inner, e * rho) / (rho * inner), y);
            double ramp = least(most((worst - 0.003) / 0.010, 0.0), 1.0);
            m[M_BEND][j] = most(mb[INSIDE][j] * ramp * ramp * (3.0 - 2.0 * ramp), mb[COARSE][j]);
        }
        EACH m[STEEP][j] = mb[INSIDE][j] * most(most(m[M_BEND][j - 1], m[M_BEND][j]), m[M_BEND][j + 1]);
        EACH {
            long r = j + 1;
            double fl = mb[AREA][j] * o[RHO][j], fr = mb[AREA][r] * o[RHO][r];
            double ul = o[U][j], ur = o[U][r], v = mb[PER_VOLUME][j], am = mb[PER_MID][j];
            double t = m[STEEP][j], s;
#define MIDDLE(mean, l, q) (s = (6.0 * (mean) - (l) - (q)) * am, s + t * ((mean) * v - s))
            double rho = MIDDLE(mass[j], fl, fr), per = 1.0 / rho;
            double u = MIDDLE(momentum[j], fl * ul, fr * ur) * per;
            double el = fl * (o[E][j] + 0.5 * ul * ul), er = fr * (o[E][r] + 0.5 * ur * ur);
            double e = MIDDLE(energy[j], el, er) * per - 0.5 * u * u;
            double yf = MIDDLE(fuel[j], fl * o[YF][j], fr * o[YF][r]) * per;
            double yb = MIDDLE(burned[j], fl * o[YB][j], fr * o[YB][r]) * per;
            double R = gas_constant(g, yf, yb), T = m[M_T][j];
            COEFFICIENTS(yf, yb);
            double per_cv = 1.0 / CV(T);
            T -= (ENERGY(T) - e) * per_cv;
            T -= (ENERGY(T) - e) * per_cv;
            double gm = 1.0 + R / CV(T);
            m[M_T][j] = T; m[M_RHO][j] = rho; m[M_U][j] = u; m[M_P][j] = rho * R * T;
            m[M_A][j] = sqrt(gm * R * T); m[M_GAMMA][j] = gm; m[M_YF][j] = yf; m[M_YB][j] = yb;
        }
        for (int q = 0; q < 7; q++) {
            double *c0_ = pr[3 * q], *c1_ = pr[3 * q + 1], *c2_ = pr[3 * q + 2], *x = m[q], *y = o[q];
            EACH {
                double l = y[j], r = y[j + 1], c = x[j];
                c0_[j] = l; c1_[j] = 4.0 * c - 3.0 * l - r; c2_[j] = 2.0 * (l + r) - 4.0 * c;
            }
        }
        EACH {
            double T = m[M_T][j];
            double flow = m[M_RHO][j] * fabs(m[M_U][j]) * mb[DIAMETER][j] + 1e-12;
            double inverse = 1.458e-6 * T * sqrt(T) / ((T + 110.4) * flow);
            double rate = 2.0 * fanning(inverse, mb[ROUGH][j]) * mb[PER_DIAMETER][j];
            drag[j] = mb[FRICTION][j] * rate + 0.5 * mb[BEND][j];
            film[j] = mb[HEAT][j] * rate * 1.2564959724586404;
            double u = m[M_U][j], gm = m[M_GAMMA][j];
            braking[j] = drag[j] * u * fabs(u);
            double wall_a2 = gm * gas_constant(g, m[M_YF][j], m[M_YB][j]) * mb[WALL][j];
            heating[j] = heating_rate(m[M_RHO][j], u, m[M_A][j] * m[M_A][j], gm, drag[j], film[j], wall_a2);
        }
        EACH {
            double u = o[U][j], a = o[A][j], rho = o[RHO][j];
            SKETCH(f1, j - 1, 1.0 - (u + a) * tau * pdx[j - 1], 1.0, tr[j - 1], o[RHO][j - 1])
            SKETCH(s1, j, (a - u) * tau * pdx[j], -1.0, tl[j], o[RHO][j + 1])
            double stiff = rho * a * a, total = f1z + s1z, per = 1.0 / (stiff * total);
            double u1 = (f1k - s1k) * stiff * per;
            double rise = (s1z * f1k + f1z * s1k - total * o[P][j]) * per;
            double rho1 = rho * (1.0 + rise), a1 = a * (1.0 + 0.5 * (o[GAMMA][j] - 1.0) * rise);
            double d = 0.25 * (f1u + s1u) + 0.5 * u1;
            double f = 0.5 * (f1u + f1a + u1 + a1), s_ = 0.5 * (s1u - s1a + u1 - a1);
            WAVE(f2, j - 1, 1.0 - f * tau * pdx[j - 1], 1.0, tr[j - 1], tau, rho1, a1)
            WAVE(s2, j, -s_ * tau * pdx[j], -1.0, tl[j], tau, rho1, a1)
            ARRIVE(half, tau, d, f2, s2, a1)
            half_a[j] = sqrt(gf * pn_ / half_rho[j]);
            drift[j] = foot_u; fast[j] = f2u + f2a; slow[j] = s2u - s2a;
        }
        EACH {
            double yf = thalf[YF][j], yb = thalf[YB][j];
            double T = thalf[P][j] / (thalf[RHO][j] * gas_constant(g, yf, yb));
            COEFFICIENTS(yf, yb);
            thalf[E][j] = ENERGY(T);
        }
#define MEAN(q) (0.5 * (thalf[q][j] + thalf[q][j + 1]))
        EACH {
            double u = MEAN(U), rho = MEAN(RHO), a = MEAN(A), gm = MEAN(GAMMA);
            braking[j] = drag[j] * u * fabs(u);
            double wall_a2 = gm * gas_constant(g, MEAN(YF), MEAN(YB)) * mb[WALL][j];
            heating[j] = heating_rate(rho, u, a * a, gm, drag[j], film[j], wall_a2);
        }
        {
        NAMES(new, tnew);
        EACH {
            double rho_e = held(thalf[RHO][j], o[RHO][j]), a_e = held(thalf[A][j], o[A][j]);
            double ut = thalf[U][j] - o[U][j], at = a_e - thalf[A][j];
            double f = fast[j] + ut + at, s_ = slow[j] + ut - at;
            WAVE(f2, j - 1, 1.0 - f * dt * pdx[j - 1], 1.0, tr[j - 1], dt, rho_e, a_e)
            WAVE(s2, j, -s_ * dt * pdx[j], -1.0, tl[j], dt, rho_e, a_e)
            ARRIVE(new, dt, drift[j] + ut, f2, s2, a_e)
            (void)foot_u;
        }
        }
        EACH {
            double yf = tnew[YF][j], yb = tnew[YB][j], R = gas_constant(g, yf, yb);
            double T = tnew[P][j] / (tnew[RHO][j] * R);
            COEFFICIENTS(yf, yb);
            double gm = 1.0 + R / CV(T);
            tnew[GAMMA][j] = gm; tnew[A][j] = sqrt(gm * R * T); tnew[E][j] = ENERGY(T);
            double side = (1.0 - most(m[STEEP][j - 1], m[STEEP][j])) * (1.0 / 6.0);
            double centre = 1.0 - 2.0 * side, f = mb[AREA][j];
            double uo = o[U][j], uh = thalf[U][j], un = tnew[U][j];
            double mo = side * f * o[RHO][j] * uo, mh = centre * f * thalf[RHO][j] * uh,
                   mn = side * f * tnew[RHO][j] * un;
            fm[j] = mo + mh + mn;
            pressure[j] = side * (o[P][j] + tnew[P][j]) + centre * thalf[P][j];
            fp[j] = mo * uo + mh * uh + mn * un + f * pressure[j];
            double push = side * (uo * o[P][j] + un * tnew[P][j]) + centre * uh * thalf[P][j];
            fe[j] = mo * (o[E][j] + 0.5 * uo * uo) + mh * (thalf[E][j] + 0.5 * uh * uh)
                    + mn * (tnew[E][j] + 0.5 * un * un) + f * push;
            ff[j] = mo * o[YF][j] + mh * thalf[YF][j] + mn * tnew[YF][j];
            fb[j] = mo * o[YB][j] + mh * thalf[YB][j] + mn * tnew[YB][j];
        }
        EACH {
            long r = j + 1;
            double rate = mb[INSIDE][j] * dt * mb[PER_DX][j], step = mb[INSIDE][j] * dt;
            double pm = m[M_P][j] + 0.5 * (pressure[j] - o[P][j] + pressure[r] - o[P][r]);
            double pdf = (mb[SLOPE_L][j] * pressure[j] + 4.0 * mb[SLOPE_M][j] * pm
                          + mb[SLOPE_R][j] * pressure[r]) * (1.0 / 6.0);
            double rho = MEAN(RHO), u = MEAN(U), g1 = MEAN(GAMMA) - 1.0;
            double brake = mb[VOLUME][j] * rho * braking[j];
            double heat = mb[VOLUME][j] * heating[j] / g1 - brake * u;
            mass[j] += rate * (fm[j] - fm[r]);
            momentum[j] += rate * (fp[j] - fp[r]) + step * (pdf - brake);
            energy[j] += rate * (fe[j] - fe[r]) + step * heat;
            duct_heat[j] += step * heat * mb[DX][j];
            fuel[j] += rate * (ff[j] - ff[r]);
            burned[j] += rate * (fb[j] - fb[r]);
        }
        for (int q = 0; q < 8; q++) {
            double *swap = o[q]; o[q] = tnew[q]; tnew[q] = swap;
        }
    }
}
