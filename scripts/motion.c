/* The motion of a rigid vehicle in plain C: what parasim's compiled Python is measured against.
 *
 * Same equations, same table, same steps as parasim/dynamics/runge_kutta.py and what it calls; there the physics
 * is explained. Left out: a payload that swings, winds other than the power law, the discrete gust, and the net under flights that tumble.
 */
#include <math.h>
#include <string.h>

enum { STATES = 15, STAGES = 7, MOST_MOVES = 32 };
enum { LANDED, ALOFT, LOST, STUCK, ON_GROUND };

static const double FOOT = 0.3048;

/* As parasim.dynamics.motion.CONSTANTS. */
typedef struct {
    double solid[6][6], enclosed[6][6], air[6][6], air_mass[3], modes[6][6], ratio[6];
    double mass, first_moment[3], table_origin[3];
    double ground_height, temperature_offset, sea_level_pressure;
    double payload_mass, payload_center[3], payload_inertia[3][3], payload_drag_area, stiffness[3], damping[3];
    double terminal_speed;
} Constants;

typedef struct {
    const Constants *constants;
    /* Table of coefficients. */
    long n_alpha, n_beta, n_brake;
    const double *alpha, *beta, *alpha_cubic, *beta_cubic, *steady, *rates;
    double brake_step, area, span, chord;
    /* Bluff bodies. */
    long n_bodies;
    const double *bodies;
    /* Wind and turbulence. */
    double wind_speed, wind_from, reference_height, exponent, turn;
    double deviation;
    long n_samples;
    const double *splines;
    double step_horizontal, step_vertical;
    /* Point that touches the ground; brakes. */
    double place[3];
    long n_timed, n_by_height;
    const double *timed, *by_height;
    /* Tolerances and the longest flight. */
    double rtol, atol[STATES], longest;
} Flight;

typedef struct {
    long ending, steps;
    double time, largest_alpha, largest_beta;
} Told;

typedef struct {
    double start, over, left, right;
} Move;

static double square(double x) { return x * x; }

static double clamp(double x, double low, double high) { return x < low ? low : x > high ? high : x; }

static void cross(const double a[3], const double b[3], double out[3])
{
    out[0] = a[1] * b[2] - a[2] * b[1];
    out[1] = a[2] * b[0] - a[0] * b[2];
    out[2] = a[0] * b[1] - a[1] * b[0];
}

static void turn(const double m[3][3], const double a[3], double out[3])
{
    for (int i = 0; i < 3; i++) out[i] = m[i][0] * a[0] + m[i][1] * a[1] + m[i][2] * a[2];
}

static void turn_back(const double m[3][3], const double a[3], double out[3])
{
    for (int i = 0; i < 3; i++) out[i] = m[0][i] * a[0] + m[1][i] * a[1] + m[2][i] * a[2];
}

static void times6(const double m[6][6], const double a[6], double out[6])
{
    for (int i = 0; i < 6; i++) {
        out[i] = 0.0;
        for (int j = 0; j < 6; j++) out[i] += m[i][j] * a[j];
    }
}

static void attitude_matrix(const double q[4], double m[3][3])
{
    double w = q[0], x = q[1], y = q[2], z = q[3];
    double s = 2.0 / (w * w + x * x + y * y + z * z);
    double xx = s * x * x, yy = s * y * y, zz = s * z * z;
    double xy = s * x * y, yz = s * y * z, zx = s * z * x;
    double wx = s * w * x, wy = s * w * y, wz = s * w * z;
    m[0][0] = 1.0 - yy - zz, m[0][1] = xy - wz, m[0][2] = zx + wy;
    m[1][0] = xy + wz, m[1][1] = 1.0 - zz - xx, m[1][2] = yz - wx;
    m[2][0] = zx - wy, m[2][1] = yz + wx, m[2][2] = 1.0 - xx - yy;
}

/* ---- Air ---- */

static double density_at(const Constants *c, double altitude)
{
    const double gas_constant = 287.05287, lapse_rate = 0.0065, gravity = 9.80665;
    double T0 = 288.15 + c->temperature_offset, rho0 = c->sea_level_pressure / (gas_constant * T0);
    double h = clamp(altitude, -1000.0, 11000.0);
    return rho0 * pow((T0 - lapse_rate * h) / T0, gravity / (gas_constant * lapse_rate) - 1.0);
}

static void mean_wind(const Flight *f, double height, double wind[2], double rise[2])
{
    const double lowest = 0.5, turn_depth = 100.0;
    double h = height < lowest ? lowest : height;
    double share = pow(h / f->reference_height, f->exponent);
    double V = f->wind_speed * share, V_h = height < lowest ? 0.0 : f->wind_speed * (f->exponent * share / h);
    double depth = (height - f->reference_height) / turn_depth;
    double direction = f->wind_from + f->turn * clamp(depth, 0.0, 1.0);
    double direction_h = depth >= 0.0 && depth < 1.0 ? f->turn / turn_depth : 0.0;
    double c = cos(direction), s = sin(direction);
    wind[0] = -V * c, wind[1] = -V * s;
    rise[0] = -V_h * c + V * direction_h * s, rise[1] = -V_h * s - V * direction_h * c;
}

static void turbulence_scales(double height, double *horizontal, double *vertical, double *ratio)
{
    double h = clamp(height, 10.0 * FOOT, 1000.0 * FOOT), a = 0.177 + 0.000823 * h / FOOT;
    *horizontal = h / pow(a, 1.2), *vertical = h, *ratio = 1.0 / pow(a, 0.4);
}

static double interpolated(const double *spline, long n, double place, double *slope)
{
    long last = n - 1;
    double x = place - 2.0 * last * floor(place / (2.0 * last)), forwards = 1.0;
    if (x > last) x = 2.0 * last - x, forwards = -1.0;
    long i = (long)x;
    if (i > last - 1) i = last - 1;
    double t = x - i, s = 1.0 - t, c1 = spline[i], c2 = spline[i + 1];
    double c0 = i > 0 ? spline[i - 1] : spline[1];
    double c3 = i + 2 <= last ? spline[i + 2] : spline[last - 1];
    double value = s * s * s * c0 + (4.0 - 3.0 * t * t * (1.0 + s)) * c1 + (4.0 - 3.0 * s * s * (1.0 + t)) * c2;
    double rise = -s * s * c0 + t * (3.0 * t - 4.0) * c1 + s * (4.0 - 3.0 * s) * c2 + t * t * c3;
    *slope = forwards * 0.5 * rise;
    return (value + t * t * t * c3) / 6.0;
}

/* Gust, its rate on board, and the rates of the two gust coordinates. */
static void gust_met(const Flight *f, const double y[STATES], const double m[3][3], const double wind[2],
                     double gust[3], double gust_rate[3], double xi_rate[2])
{
    memset(gust, 0, 3 * sizeof *gust), memset(gust_rate, 0, 3 * sizeof *gust), memset(xi_rate, 0, 2 * sizeof *gust);
    if (f->deviation == 0.0) return;
    double v[3], horizontal, vertical, ratio;
    turn(m, y + 7, v);
    double airspeed = sqrt(square(v[0] - wind[0]) + square(v[1] - wind[1]) + square(v[2]));
    turbulence_scales(-y[2], &horizontal, &vertical, &ratio);
    xi_rate[0] = airspeed / horizontal, xi_rate[1] = airspeed / vertical;
    double sigma_w = f->deviation, sigma_u = ratio * f->deviation, u_xi, v_xi, w_xi;
    double u = interpolated(f->splines, f->n_samples, y[13] / f->step_horizontal, &u_xi);
    double across = interpolated(f->splines + f->n_samples, f->n_samples, y[13] / f->step_horizontal, &v_xi);
    double w = interpolated(f->splines + 2 * f->n_samples, f->n_samples, y[14] / f->step_vertical, &w_xi);
    double rate = sigma_u * xi_rate[0] / f->step_horizontal, speed = hypot(wind[0], wind[1]);
    double c = speed > 0.0 ? wind[0] / speed : 1.0, s = speed > 0.0 ? wind[1] / speed : 0.0;
    gust[0] = sigma_u * (u * c - across * s), gust[1] = sigma_u * (u * s + across * c), gust[2] = sigma_w * w;
    gust_rate[0] = rate * (u_xi * c - v_xi * s), gust_rate[1] = rate * (u_xi * s + v_xi * c);
    gust_rate[2] = sigma_w * xi_rate[1] / f->step_vertical * w_xi;
}

/* ---- Canopy and bodies ---- */

static long cubic_at(const double *knots, long n, const double *cubic, double value, double weights[4])
{
    long low = 0, high = n - 1;
    while (high - low > 1) {
        long middle = (low + high) / 2;
        if (value >= knots[middle]) low = middle;
        else high = middle;
    }
    double t = (value - knots[low]) / (knots[low + 1] - knots[low]);
    const double *w = cubic + 16 * low;
    for (int k = 0; k < 4; k++) weights[k] = w[k] + t * (w[4 + k] + t * (w[8 + k] + t * w[12 + k]));
    return low;
}

static long linear_at(long n, double step, double value, double weights[2], int *count)
{
    double scaled = clamp(value / step, 0.0, (double)(n - 1));
    long k = (long)scaled;
    weights[1] = scaled - k, weights[0] = 1.0 - weights[1];
    *count = weights[1] == 0.0 ? 1 : 2;
    return k;
}

static void look_up(const Flight *f, double alpha, double beta, const double brakes[2], double airspeed,
                    const double spin[3], double out[6])
{
    double wa[4], wb[4], wl[2], wr[2];
    int n_left, n_right;
    long i = cubic_at(f->alpha, f->n_alpha, f->alpha_cubic, alpha, wa);
    long j = cubic_at(f->beta, f->n_beta, f->beta_cubic, beta, wb);
    long k = linear_at(f->n_brake, f->brake_step, brakes[0], wl, &n_left);
    long m = linear_at(f->n_brake, f->brake_step, brakes[1], wr, &n_right);
    for (int c = 0; c < 6; c++) out[c] = 0.0;
    for (int a = 0; a < 4; a++) {
        for (int b = 0; b < 4; b++) {
            const double *block = f->steady + ((i + a) * (f->n_beta + 2) + j + b) * f->n_brake * f->n_brake * 6;
            for (int x = 0; x < n_left; x++)
                for (int y = 0; y < n_right; y++) {
                    double w = airspeed * wa[a] * wb[b] * wl[x] * wr[y];
                    const double *value = block + ((k + x) * f->n_brake + m + y) * 6;
                    for (int c = 0; c < 6; c++) out[c] += w * value[c];
                }
        }
        const double *r = f->rates + (i + a) * 18;
        for (int c = 0; c < 6; c++)
            out[c] += wa[a] * (r[3 * c] * spin[0] + r[3 * c + 1] * spin[1] + r[3 * c + 2] * spin[2]);
    }
}

static void canopy_wrench(const Flight *f, const double velocity[3], const double rates[3], double density,
                          const double brakes[2], double force[3], double moment[3])
{
    const double *origin = f->constants->table_origin;
    double swept[3], v[3], k[6], arm[3];
    cross(rates, origin, swept);
    for (int i = 0; i < 3; i++) v[i] = velocity[i] + swept[i], force[i] = moment[i] = 0.0;
    double airspeed = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
    if (airspeed < 1e-6) return;
    double alpha = atan2(v[2], v[0]), beta = asin(clamp(v[1] / airspeed, -1.0, 1.0));
    double spin[3] = {rates[0] * f->span / 2, rates[1] * f->chord / 2, rates[2] * f->span / 2};
    double size = sqrt(square(spin[0]) + square(spin[1]) + square(spin[2])), most = 0.3 * airspeed;
    if (size > most)
        for (int i = 0; i < 3; i++) spin[i] *= most / size;
    look_up(f, alpha, beta, brakes, airspeed, spin, k);
    double scale = 0.5 * density * airspeed * f->area;
    for (int i = 0; i < 3; i++) force[i] = scale * k[i];
    cross(origin, force, arm);
    moment[0] = scale * (k[3] * f->span) + arm[0];
    moment[1] = scale * (k[4] * f->chord) + arm[1];
    moment[2] = scale * (k[5] * f->span) + arm[2];
}

static void bodies_wrench(const Flight *f, const double v[3], const double rates[3], double force[3],
                          double moment[3])
{
    for (int i = 0; i < 3; i++) force[i] = moment[i] = 0.0;
    for (long n = 0; n < f->n_bodies; n++) {
        const double *place = f->bodies + 7 * n, *e = place + 3;
        double F[3], d[3] = {
            v[0] + rates[1] * place[2] - rates[2] * place[1],
            v[1] + rates[2] * place[0] - rates[0] * place[2],
            v[2] + rates[0] * place[1] - rates[1] * place[0],
        };
        double along = d[0] * e[0] + d[1] * e[1] + d[2] * e[2];
        for (int i = 0; i < 3; i++) d[i] -= along * e[i];
        double drag = -place[6] * sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
        for (int i = 0; i < 3; i++) F[i] = drag * d[i], force[i] += F[i];
        moment[0] = moment[0] + place[1] * F[2] - place[2] * F[1];
        moment[1] = moment[1] + place[2] * F[0] - place[0] * F[2];
        moment[2] = moment[2] + place[0] * F[1] - place[1] * F[0];
    }
}

/* ---- Motion ---- */

static void carried(const Constants *c, const double velocity[3], const double through_air[3],
                    const double rates[3], double density, double force[3], double moment[3])
{
    double over_ground[6], in_air[6], s[6], e[6], a[6], p[3], h[3], total[3], air_p[3], lead[3];
    double swept[3], led[3];
    for (int i = 0; i < 3; i++) {
        over_ground[i] = velocity[i], in_air[i] = through_air[i];
        over_ground[3 + i] = in_air[3 + i] = rates[i];
    }
    times6(c->solid, over_ground, s);
    times6(c->enclosed, over_ground, e);
    times6(c->air, in_air, a);
    for (int i = 0; i < 3; i++) {
        p[i] = s[i] + density * e[i];
        h[i] = s[3 + i] + density * e[3 + i] + density * a[3 + i];
        air_p[i] = density * a[i];
        total[i] = p[i] + air_p[i];
        lead[i] = through_air[i] - a[i] / c->air_mass[i];
    }
    cross(rates, total, force);
    cross(rates, h, moment);
    cross(velocity, p, swept);
    cross(lead, air_p, led);
    for (int i = 0; i < 3; i++) moment[i] += swept[i] + led[i];
}

/* As parasim.dynamics.dissipation: takes off the power that the air would feed. */
static void dissipate(const Flight *f, const double v[3], const double rates[3], double density, double force[3],
                      double moment[3])
{
    const Constants *c = f->constants;
    double in_air[6], a[6], own[3], munk[3], power = 0.0, speed = 0.0, spin = 0.0, arm = square(10.0 * f->span);
    for (int i = 0; i < 3; i++) in_air[i] = v[i], in_air[3 + i] = rates[i];
    times6(c->air, in_air, a);
    for (int i = 0; i < 3; i++) own[i] = a[i] / c->air_mass[i];
    cross(own, a, munk);
    for (int i = 0; i < 3; i++) {
        power += force[i] * v[i] + moment[i] * rates[i] + density * munk[i] * rates[i];
        speed += square(v[i]), spin += square(rates[i]);
    }
    if (!(power > 0.0)) return;
    double k = power / (speed + arm * spin);
    for (int i = 0; i < 3; i++) force[i] -= k * v[i], moment[i] -= k * arm * rates[i];
}

static void brake_position(const Move *moves, long count, double time, double brakes[2])
{
    brakes[0] = brakes[1] = 0.0;
    for (long i = 0; i < count && time >= moves[i].start; i++) {
        double until = i + 1 < count && moves[i + 1].start <= time ? moves[i + 1].start : time;
        double part = moves[i].over <= 0.0 ? 1.0 : clamp((until - moves[i].start) / moves[i].over, -INFINITY, 1.0);
        brakes[0] += part * (moves[i].left - brakes[0]);
        brakes[1] += part * (moves[i].right - brakes[1]);
    }
}

static void rates_of(const Flight *f, const Move *moves, long count, double time, const double y[STATES],
                     double out[STATES], double through_air[3])
{
    const Constants *c = f->constants;
    const double *velocity = y + 7, *rates = y + 10, gravity = 9.80665;
    double m[3][3], earth[3], brakes[2], wind[2], rise[2], gust[3], gust_rate[3];
    brake_position(moves, count, time, brakes);
    attitude_matrix(y + 3, m);
    turn(m, velocity, earth);
    mean_wind(f, -y[2], wind, rise);
    gust_met(f, y, m, wind, gust, gust_rate, out + 13);
    double density = density_at(c, c->ground_height - y[2]), climb = -earth[2];
    double air_earth[3] = {wind[0] + gust[0], wind[1] + gust[1], gust[2]}, air[3], met[3], air_turn[3];
    double met_earth[3] = {rise[0] * climb + gust_rate[0], rise[1] * climb + gust_rate[1], gust_rate[2]};
    turn_back(m, air_earth, air);
    turn_back(m, met_earth, met);
    cross(rates, air, air_turn);
    double air_rate[6] = {0}, change[6], wrench[6], in_modes[6];
    for (int i = 0; i < 3; i++) through_air[i] = velocity[i] - air[i], air_rate[i] = met[i] - air_turn[i];
    double canopy_F[3], canopy_M[3], body_F[3], body_M[3], carried_F[3], carried_M[3], weight_M[3];
    canopy_wrench(f, through_air, rates, density, brakes, canopy_F, canopy_M);
    dissipate(f, through_air, rates, density, canopy_F, canopy_M);
    bodies_wrench(f, through_air, rates, body_F, body_M);
    carried(c, velocity, through_air, rates, density, carried_F, carried_M);
    cross(c->first_moment, m[2], weight_M);
    times6(c->air, air_rate, change);
    for (int i = 0; i < 3; i++) {
        double weight = gravity * c->mass * m[2][i];
        wrench[i] = canopy_F[i] + weight - carried_F[i] + density * body_F[i] + density * change[i];
        wrench[3 + i] = canopy_M[i] + gravity * weight_M[i] - carried_M[i] + density * body_M[i]
                        + density * change[3 + i];
    }
    for (int i = 0; i < 3; i++) out[i] = earth[i];
    double qw = y[3], qx = y[4], qy = y[5], qz = y[6], p = rates[0], q = rates[1], r = rates[2];
    out[3] = -0.5 * (qx * p + qy * q + qz * r);
    out[4] = 0.5 * (qw * p + qy * r - qz * q);
    out[5] = 0.5 * (qw * q + qz * p - qx * r);
    out[6] = 0.5 * (qw * r + qx * q - qy * p);
    for (int i = 0; i < 6; i++) {
        in_modes[i] = 0.0;
        for (int j = 0; j < 6; j++) in_modes[i] += c->modes[j][i] * wrench[j];
        in_modes[i] /= 1.0 + density * c->ratio[i];
    }
    times6(c->modes, in_modes, out + 7);
}

/* ---- Steps of Dormand and Prince ---- */

static const double NODES[6] = {1.0 / 5, 3.0 / 10, 4.0 / 5, 8.0 / 9, 1.0, 1.0};
static const double WEIGHTS[6][6] = {
    {1.0 / 5},
    {3.0 / 40, 9.0 / 40},
    {44.0 / 45, -56.0 / 15, 32.0 / 9},
    {19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729},
    {9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656},
    {35.0 / 384, 0, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84},
};
static const double ERROR[7] = {71.0 / 57600, 0, -71.0 / 16695, 71.0 / 1920, -17253.0 / 339200, 22.0 / 525, -1.0 / 40};
static const double TOUCH = 1e-9;

static void step(const Flight *f, const Move *moves, long count, double time, double h, const double y[STATES],
                 double k[STAGES][STATES], double trial[STATES], double through_air[3])
{
    for (int stage = 0; stage < 6; stage++) {
        double rate[STATES] = {0};
        for (int j = 0; j <= stage; j++)
            for (int i = 0; i < STATES; i++) rate[i] += WEIGHTS[stage][j] * k[j][i];
        for (int i = 0; i < STATES; i++) trial[i] = y[i] + h * rate[i];
        rates_of(f, moves, count, time + NODES[stage] * h, trial, k[stage + 1], through_air);
    }
}

static double step_error(const Flight *f, const double y[STATES], const double trial[STATES],
                         double k[STAGES][STATES], double h)
{
    double total = 0.0;
    for (int i = 0; i < STATES; i++) {
        double error = 0.0;
        for (int j = 0; j < STAGES; j++) error += ERROR[j] * k[j][i];
        total += square(error * (h / (f->atol[i] + f->rtol * fmax(fabs(y[i]), fabs(trial[i])))));
    }
    return sqrt(total / STATES);
}

static double point_height(const Flight *f, const double y[STATES], double *sink)
{
    double m[3][3], velocity[3], arm[3], swept[3], swept_earth[3];
    attitude_matrix(y + 3, m);
    turn(m, f->place, arm);
    if (sink) {
        cross(y + 10, f->place, swept);
        turn(m, swept, swept_earth);
        turn(m, y + 7, velocity);
        *sink = velocity[2] + swept_earth[2];
    }
    return -y[2] - arm[2];
}

static double step_to_level(const Flight *f, const Move *moves, long count, double time, double h,
                            const double y[STATES], double k[STAGES][STATES], double trial[STATES], double level,
                            double through_air[3])
{
    double above = 0.0, below = h, taken = h, sink, height = point_height(f, trial, &sink);
    for (int n = 0; n < 60; n++) {
        if (height > level) above = taken;
        else below = taken;
        taken += sink > 0.0 ? (height - level) / sink : h;
        if (!(above < taken && taken < below)) taken = 0.5 * (above + below);
        step(f, moves, count, time, taken, y, k, trial, through_air);
        height = point_height(f, trial, &sink);
        if (fabs(height - level) <= TOUCH) break;
    }
    return taken;
}

static double next_corner(const Move *moves, long count, double time, double longest)
{
    double corner = longest;
    for (long i = 0; i < count; i++) {
        double begins = moves[i].start, ends = moves[i].start + moves[i].over;
        if (time + 1e-9 < begins && begins < corner) corner = begins;
        if (time + 1e-9 < ends && ends < corner) corner = ends;
    }
    return corner;
}

static int all_finite(const double *y)
{
    for (int i = 0; i < STATES; i++)
        if (!isfinite(y[i])) return 0;
    return 1;
}

static double step_factor(double error, double before)
{
    return error == 0.0 ? 5.0 : clamp(0.9 * pow(error, -0.17) * pow(before, 0.04), 0.2, 5.0);
}

/* Fly from a state until a point of the payload touches the ground; the state is then the last one. */
Told fly(const Flight *f, double y[STATES])
{
    double k[STAGES][STATES], trial[STATES], through_air[3];
    Move moves[MOST_MOVES];
    long count = f->n_timed, waiting = 0;
    Told told = {ALOFT, 0, 0.0, 0.0, 0.0};
    double h = 0.02, before = 1e-4, height = point_height(f, y, NULL);
    int refused = 0;
    memcpy(moves, f->timed, count * sizeof(Move));
    if (!all_finite(y)) return told.ending = LOST, told;
    if (height <= 0.0) return told.ending = ON_GROUND, told;
    while (told.time < f->longest) {
        while (waiting < f->n_by_height && height <= f->by_height[4 * waiting] + TOUCH) {
            long at = count++;
            for (; at > 0 && moves[at - 1].start > told.time; at--) moves[at] = moves[at - 1];
            memcpy(&moves[at], f->by_height + 4 * waiting++, sizeof(Move));
            moves[at].start = told.time;
        }
        double level = waiting < f->n_by_height ? f->by_height[4 * waiting] : 0.0;
        double corner = next_corner(moves, count, told.time, f->longest);
        int at_level = 0;
        rates_of(f, moves, count, told.time, y, k[0], through_air);
        while (told.time < corner && !at_level) {
            if (h > corner - told.time) h = corner - told.time;
            int to_corner = h == corner - told.time;
            step(f, moves, count, told.time, h, y, k, trial, through_air);
            told.steps++;
            double error = step_error(f, y, trial, k, h), taken = h;
            if (!(error <= 1.0)) {
                if (!isfinite(error) && !all_finite(k[0])) return told.ending = LOST, told;
                h *= isfinite(error) ? fmin(1.0, step_factor(error, 1.0)) : 0.2;
                refused = 1;
                if (h < 1e-9 || told.steps > 2000000) return told.ending = STUCK, told;
                continue;
            }
            height = point_height(f, trial, NULL);
            if (height <= level + TOUCH) {
                at_level = 1;
                if (height < level - TOUCH)
                    taken = step_to_level(f, moves, count, told.time, h, y, k, trial, level, through_air);
            }
            memcpy(y, trial, sizeof trial);
            memcpy(k[0], k[6], sizeof k[0]);
            told.time = to_corner && taken == h ? corner : told.time + taken;
            double factor = step_factor(error, before);
            h *= refused ? fmin(1.0, factor) : factor;
            before = fmax(error, 1e-4), refused = 0;
            double airspeed = sqrt(square(through_air[0]) + square(through_air[1]) + square(through_air[2]));
            if (airspeed > 1.0) {
                told.largest_alpha = fmax(told.largest_alpha, fabs(atan2(through_air[2], through_air[0])));
                told.largest_beta = fmax(told.largest_beta, fabs(asin(through_air[1] / airspeed)));
            }
        }
        double length = sqrt(square(y[3]) + square(y[4]) + square(y[5]) + square(y[6]));
        for (int i = 3; i < 7; i++) y[i] /= length;
        height = point_height(f, y, NULL);
        if (at_level && waiting == f->n_by_height) return told.ending = LANDED, told;
    }
    return told;
}
