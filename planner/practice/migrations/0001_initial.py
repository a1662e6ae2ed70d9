import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='Office',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('name', models.CharField(max_length=120)),
                ('place', models.CharField(max_length=120)),
                ('time_zone', models.CharField(max_length=60)),
                ('created_at', models.DateTimeField()),
            ],
            options={
                'ordering': ('name', 'id'),
            },
        ),
        migrations.CreateModel(
            name='Staff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('username', models.CharField(max_length=60, unique=True)),
                ('full_name', models.CharField(max_length=200)),
                ('language', models.CharField(default='en', max_length=2)),
                ('is_active', models.BooleanField(default=True)),
                ('access_until', models.DateField(blank=True, null=True)),
                ('password_once', models.BooleanField(default=False)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='staff', to='practice.office')),
            ],
            options={
                'verbose_name_plural': 'staff',
                'ordering': ('full_name', 'id'),
                'indexes': [models.Index(fields=['office', 'full_name', 'id'], name='staff_by_office')],
                'constraints': [models.CheckConstraint(condition=models.Q(('language__in', ('en', 'es'))), name='staff_language_known'), models.CheckConstraint(condition=models.Q(('full_name', ''), _negated=True), name='staff_named')],
            },
        ),
        migrations.CreateModel(
            name='StaffRole',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('role', models.CharField(choices=[('front desk', 'front desk'), ('desk lead', 'desk lead'), ('assistant', 'assistant'), ('dentist', 'dentist'), ('office manager', 'office manager'), ('owner dentist', 'owner dentist'), ('system keeper', 'system keeper'), ('outside checker', 'outside checker')], max_length=20)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('staff', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='role_rows', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('staff', 'role'), name='staff_role_once'), models.CheckConstraint(condition=models.Q(('role__in', ['front desk', 'desk lead', 'assistant', 'dentist', 'office manager', 'owner dentist', 'system keeper', 'outside checker'])), name='staff_role_known')],
            },
        ),
        migrations.CreateModel(
            name='BookVersion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('number', models.PositiveIntegerField()),
                ('effective', models.DateField()),
                ('data', models.TextField()),
                ('sha256', models.CharField(max_length=64)),
                ('reason', models.TextField()),
                ('at', models.DateTimeField()),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='book_versions', to='practice.office')),
            ],
            options={
                'ordering': ('office', 'number'),
                'indexes': [models.Index(fields=['office', '-effective', '-number'], name='book_in_force')],
                'constraints': [models.UniqueConstraint(fields=('office', 'number'), name='book_number_once'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='book_number_from_one')],
            },
        ),
    ]
